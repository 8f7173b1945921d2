"""Proven rest: long enough after the last disturbance, and steady."""

from collections.abc import Sequence

from arteriole.episodes.trend import Trend

WAIT_S = 25.0  # contrast and saline act about this long, common practice, no source
NITRATE_S = 60.0  # flow is raised for about this long, common practice, no source
LONGEST_S, SHORTEST_S = 25.0, 4.0
#: After a wait this long something else was done before the first act (a spasm test); rest is then
#: the first settled stretch, not the last; our choice, decision 0038.
LONG_WAIT_S, SETTLED_S = 120.0, 40.0
SLOPE_PER_S = 0.0012  # ratio per s: 0.03 over a rest of 25 s; our choice, decision 0044


def find_rest(
    trend: Trend,
    disturbed_until_s: Sequence[float],
    from_s: float,
    before_s: float,
    *,
    nitrate_s: float | None = None,
) -> tuple[float, float, tuple[str, ...]] | None:
    """Return (start, end, faults) of the rest that ends at ``before_s``, or None.

    After a long wait it is the first settled stretch instead.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    disturbed_until_s : sequence of float
        Ends of flushes and infusions, s.
    from_s, before_s : float
        After the wire was placed; before the first injection, infusion or hyperaemia, s.
    nitrate_s : float, optional
        When nitrate was given into the artery, s.

    Faults: "early" (less than ``WAIT_S`` after a disturbance), "nitrate" (less than ``NITRATE_S``
    after it), "moving" (the ratio drifts).
    Look-ahead: none beyond ``before_s``.
    """
    given = [nitrate_s] if nitrate_s is not None else []
    last = max((e for e in [*disturbed_until_s, *given] if e < before_s), default=from_s)
    if before_s - last > LONG_WAIT_S:
        before_s = last + SETTLED_S + LONGEST_S
    start = max(before_s - LONGEST_S, last + WAIT_S, from_s)
    faults: list[str] = []
    if before_s - start < SHORTEST_S:
        start = max(before_s - 2.0 * SHORTEST_S, last + 2.0, from_s)
        faults.append("early")
    if nitrate_s is not None and nitrate_s < before_s and start < nitrate_s + NITRATE_S:
        late = nitrate_s + NITRATE_S
        if before_s - late >= SHORTEST_S:
            start = late
        else:
            faults.append("nitrate")
    part = trend.between(start, before_s)
    if part.time_s.size < SHORTEST_S or before_s - start < 1.0:
        return None
    if part.time_s.size >= 10 and abs(slope(part)) > SLOPE_PER_S:
        faults.append("moving")
    return start, before_s, tuple(faults)


def slope(part: Trend) -> float:
    """Return the slope of the ratio over the stretch by least squares, 1/s."""
    time = part.time_s - part.time_s.mean()
    return float(time @ part.ratio / max(float(time @ time), 1e-9))
