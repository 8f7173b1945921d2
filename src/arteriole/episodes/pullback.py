"""The pullback: where the ratio climbs to the guide's, and the check that follows."""

from dataclasses import dataclass

import numpy as np

from arteriole.episodes.trend import Trend, running_median

END_S = 5.0  # the last seconds are taken as "at the guide" when the rest fits
LEAST_AT_GUIDE = 0.88  # at the guide Pd/Pa is 1 but for the gauges' error; decision 0043
RISE = 0.012  # least rise in Pd/Pa that can be told from wandering; our choice, decision 0043
NOISES = 4.0
SAME_WAVE = 0.5  # at the guide the wave's gap is at most this share of what it was in the vessel
SAME_WAVE_MMHG = 1.2
BEYOND_REST = 0.01  # fading ends at the resting ratio, not above it
TOP_SHARE = 0.10  # within this share of the rise the ratio has arrived
SETTLE_S = 1.0
LONGEST_S, SHORTEST_S = 150.0, 3.0
CHECK_S = 4.0  # least stretch at the guide that checks the drift


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A pullback and the check after it, s."""

    start_s: float
    end_s: float
    check_start_s: float
    check_end_s: float


def find_pullback(trend: Trend, from_s: float, rest_level: float | None) -> Drawn | None:
    """Return the pullback after ``from_s``, or None when the wire did not come back.

    The ratio climbs, stays, and the two waves become one shape (so a fading hyperaemia is not
    taken for it); a ratio beyond that of rest can only be the guide's. Look-ahead: to the end of
    the recording.
    """
    part = trend.between(from_s, np.inf)
    if part.time_s.size < 20:
        return None
    t = part.time_s
    level = running_median(part.ratio, 5)
    end = t[-1]
    last = level[t > end - END_S]
    final = float(np.median(last))
    top_wave = float(np.median(part.shape_mmhg[t > end - END_S]))
    quiet = level[: max(8, int(0.15 * level.size))]
    low = float(np.median(quiet))
    wander = float(np.std(quiet))
    rise = final - low
    if final < LEAST_AT_GUIDE:
        return None
    if rise < max(RISE, NOISES * trend.noise, 2.0 * wander):
        return None
    wave = float(np.median(part.shape_mmhg[: quiet.size]))
    beyond_rest = rest_level is not None and final > rest_level + BEYOND_REST
    if not beyond_rest and abs(top_wave) > max(SAME_WAVE * abs(wave), SAME_WAVE_MMHG):
        return None
    tolerance = max(TOP_SHARE * rise, 3.0 * trend.noise, 0.003)
    below = np.flatnonzero(level < final - tolerance)
    arrived = int(below[-1]) + 1
    if arrived >= t.size - 2 or t[-1] - t[arrived] < CHECK_S - SETTLE_S:
        return None
    climbing = np.flatnonzero(level[:arrived] < low + max(0.08 * rise, 1.5 * wander))
    first = int(climbing[-1]) if climbing.size else 0
    start, stop = float(t[first]), float(t[arrived])
    if not SHORTEST_S <= stop - start <= LONGEST_S:
        start = max(start, stop - LONGEST_S)
    return Drawn(
        start_s=start, end_s=stop, check_start_s=min(stop + SETTLE_S, float(end) - CHECK_S),
        check_end_s=float(end) + 1.0,
    )  # fmt: skip
