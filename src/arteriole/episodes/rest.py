"""Proven rest: long enough after the last disturbance, and steady."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from arteriole.episodes.trend import Trend

WAIT_S = 25.0  # contrast and saline act about this long, common practice, no source
NITRATE_S = 60.0  # flow is raised for about this long, common practice, no source
LONGEST_S, SHORTEST_S = 25.0, 4.0
#: After a wait this long something else was done before the first act (a spasm test); rest is then
#: the first settled stretch, not the last; our choice, decision 0038.
LONG_WAIT_S, SETTLED_S = 120.0, 40.0
#: Pd/Pa by which 161 clean simulated rests move from end to end: 99 % less than 0.017, the largest
#: 0.018; what is beyond is told. Our choice, decision 0099.
MOVES = 0.019
FEWEST_BEATS = 10  # for a slope
TO_THE_ACT_S = 0.5  # rest ends this long before what follows it
TOUCHES_S = 0.6  # stretches that share no more than this do not overlap, nor is a wait too short


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """What raises flow for a while; ``words`` name it within a sentence."""

    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RestDoubt:
    """What speaks against a rest: by fault, in words that follow "Rest at 66.0 s".

    Faults: "early" (less than ``WAIT_S`` after a disturbance, or in one), "nitrate" (less than
    ``NITRATE_S`` after it), "moving" (the ratio drifts). ``drift``: by how much it moved from end
    to end of the stretch, 0 where that is no fault.
    """

    words: Mapping[str, str] = field(default_factory=dict)
    drift: float = 0.0

    @property
    def faults(self) -> tuple[str, ...]:
        """Return the faults in a fixed order; empty where rest is proven."""
        return tuple(f for f in ("early", "nitrate", "moving") if f in self.words)


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

    Faults: as in :class:`RestDoubt`.
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
    if _drift(part, before_s - start) != 0.0:
        faults.append("moving")
    return start, before_s, tuple(faults)


def choose_rest(
    trend: Trend,
    disturbed_s: Sequence[tuple[float, float]],
    from_s: float,
    before_s: float,
    *,
    acts_seen: bool,
    effect_seen: bool = True,
) -> tuple[float, float, tuple[str, ...]] | None:
    """Return the rest of :func:`find_rest` from the pause between disturbances that proves it.

    Where the acts are known (cold tells injections from flushes) rest is the last pause before
    them, and an earlier one only where that is too short. Where Pa alone shows that something went
    through the guide, an injection looks like a flush: rest is the last pause that holds a whole
    one, the first where no effect of a drug says where the pauses under it begin. An earlier pause
    counts from ``WAIT_S`` after ``from_s``, for the wire may still have been on its way.

    Parameters
    ----------
    trend, from_s, before_s
        As in :func:`find_rest`.
    disturbed_s : sequence of (float, float)
        Flushes, infusions, and all that went through the guide, s.
    acts_seen : bool
        Whether ``before_s`` is the first act.
    effect_seen : bool
        Whether ``before_s`` is where the ratio fell.
    """
    rows = []
    stops = sorted({before_s, *(a - TO_THE_ACT_S for a, _ in disturbed_s)}, reverse=True)
    for stop in (s for s in stops if s <= before_s):
        ends = [b for a, b in disturbed_s if a < stop]
        after = from_s if stop == before_s else from_s + WAIT_S
        found = find_rest(trend, ends, after, stop) if stop > after else None
        if found is not None:
            since = found[0] - max((b for b in ends if b <= found[0]), default=from_s)
            rows.append((found, since))
    if not rows:
        return None
    proven = [r for r, _ in rows if "early" not in r[2]]
    if acts_seen:
        return proven[0] if proven else rows[0][0]
    if not proven:
        return max(rows, key=lambda r: r[1])[0]
    still = [r for r in proven if not r[2]] or proven
    if not effect_seen:
        still.reverse()
    whole = [r for r in still if r[1] - r[0] > LONGEST_S - 1.0]
    return whole[0] if whole else max(still, key=lambda r: r[1] - r[0])


def doubt_of(
    trend: Trend,
    rest_s: tuple[float, float],
    disturbances: Sequence[Disturbance],
    begins_s: float,
    *,
    nitrate_s: float | None = None,
) -> RestDoubt:
    """Return what speaks against a rest, found or marked.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    rest_s : (float, float)
        The stretch, s.
    disturbances : sequence of Disturbance
        All that raises flow for a while.
    begins_s : float
        When the recording begins: what went before it is not known, s.
    nitrate_s : float, optional
        When nitrate was given into the artery, s.

    Look-ahead: the stretch.
    """
    start, end = rest_s
    words: dict[str, str] = {}
    early = _early(start, end, disturbances, begins_s)
    if early:
        words["early"] = early
    if nitrate_s is not None and start - NITRATE_S < nitrate_s < end:
        words["nitrate"] = (
            f"begins {start - nitrate_s:.0f} s after nitrate (line: {NITRATE_S:.0f} s)"
            if nitrate_s <= start
            else f"holds the time of nitrate, {nitrate_s:.1f} s"
        )
    drift = _drift(trend.between(start, end), end - start)
    if drift:
        words["moving"] = f"is not still: Pd/Pa moves by {drift:+.3f} (line: {MOVES:.3f})"
    return RestDoubt(words=words, drift=drift)


def _early(
    start_s: float, end_s: float, disturbances: Sequence[Disturbance], begins_s: float
) -> str:
    within = [
        d for d in disturbances if d.start_s < end_s - TOUCHES_S and d.end_s > start_s + TOUCHES_S
    ]
    if within:
        d = within[0]
        return f"overlaps {d.words} ({d.start_s:.1f} to {d.end_s:.1f} s)"
    before = [d for d in disturbances if d.end_s <= start_s + TOUCHES_S]
    if before:
        last = max(before, key=lambda d: d.end_s)
        since = max(start_s - last.end_s, 0.0)
        told = f"begins {since:.0f} s after {last.words} (line: {WAIT_S:.0f} s)"
        return told if since < WAIT_S - TOUCHES_S else ""
    since = start_s - begins_s
    if since >= WAIT_S - TOUCHES_S:
        return ""
    return (
        f"begins {since:.0f} s after the recording (line: {WAIT_S:.0f} s); contrast or saline "
        "before it would not be known"
    )


def _drift(part: Trend, length_s: float) -> float:
    """Return by how much the ratio moves over the stretch, 0 where that is not told from still."""
    if part.time_s.size < FEWEST_BEATS:
        return 0.0
    moved = slope(part) * length_s
    return moved if abs(moved) > MOVES else 0.0


def slope(part: Trend) -> float:
    """Return the slope of the ratio over the stretch by least squares, 1/s."""
    time = part.time_s - part.time_s.mean()
    return float(time @ part.ratio / max(float(time @ time), 1e-9))
