"""Proven rest: long enough after the last disturbance, and steady."""

from collections.abc import Sequence

import numpy as np

from arteriole.episodes.trend import Trend

WAIT_S = 25.0  # contrast and saline act about this long, common practice, no source
LONGEST_S, SHORTEST_S = 25.0, 4.0
SLOPE_PER_S = 0.0012  # ratio per s: 0.03 over a rest of 25 s; our choice, decision 0044


def find_rest(
    trend: Trend, disturbed_until_s: Sequence[float], from_s: float, before_s: float
) -> tuple[float, float, tuple[str, ...]] | None:
    """Return (start, end, faults) of the rest that ends at ``before_s``, or None.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    disturbed_until_s : sequence of float
        Ends of flushes and infusions, s.
    from_s, before_s : float
        After the wire was placed; before the first injection, infusion or hyperaemia, s.

    Faults: "early" (less than ``WAIT_S`` after a disturbance), "moving" (the ratio drifts).
    Look-ahead: none beyond ``before_s``.
    """
    last = max((e for e in disturbed_until_s if e < before_s), default=from_s)
    start = max(before_s - LONGEST_S, last + WAIT_S, from_s)
    faults: list[str] = []
    if before_s - start < SHORTEST_S:
        start = max(before_s - 2.0 * SHORTEST_S, last + 2.0, from_s)
        faults.append("early")
    part = trend.between(start, before_s)
    if part.time_s.size < SHORTEST_S or before_s - start < 1.0:
        return None
    if part.time_s.size >= 10 and abs(slope(part)) > SLOPE_PER_S:
        faults.append("moving")
    return start, before_s, tuple(faults)


def slope(part: Trend) -> float:
    """Return the ratio's slope by the median of pairs half a window apart, 1/s."""
    half = part.time_s.size // 2
    rise = part.level[half:] - part.level[: part.level.size - half]
    run = part.time_s[half:] - part.time_s[: part.time_s.size - half]
    return float(np.median(rise / run))
