"""Steps of Pd/Pa on the plateau that no drug makes: a gauge that jumped, a wire that slipped."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from arteriole.episodes.hyperaemia_course import RATIO, Course
from arteriole.episodes.trend import MEDIAN_BEATS, Trend, running_median
from arteriole.recording.channel import Samples
from arteriole.signal.smooth import robust_sd

SIDE_S, SIDE_BEATS = 12.0, 6  # nearest beats either side of a step, not further away than this
FEWEST = 4  # beats for a level
BEATS = 8  # either side of a step that is looked for: two breaths
AT_ONCE = 3  # beats that already show it
AT_ONCE_SHARE = 0.75
LEAST = 0.01  # of Pd/Pa
LEAST_SHARE = 0.30  # of the effect
SPREADS = 5.0  # of the mean over one side
LONGEST_S = 8.0  # lost at the step: across more than an injection it proves nothing
PUSH_S = (2.0, 2.0)  # around an injection: pressures are disturbed
WAKE_S = 20.0  # after an injection its own effect goes again
BEFORE_S = 14.0  # ahead of the first injection


def level_of(time_s: Samples, row: Samples, from_s: float, to_s: float) -> float | None:
    """Return the median of a row over a stretch; None with fewer than ``FEWEST`` beats."""
    part = row[(time_s >= from_s) & (time_s < to_s)]
    return float(np.median(part)) if part.size >= FEWEST else None


def mended(trend: Trend, steps_s: Sequence[float]) -> Trend:
    """Return the trend whose ratio and wave lie level across each step.

    A wire that slipped steps in both, a gauge that jumped in the ratio alone.
    """
    if not steps_s:
        return trend
    ratio = _level_across(trend.time_s, trend.ratio, steps_s)
    return replace(
        trend, ratio=ratio, level=running_median(ratio, MEDIAN_BEATS),
        shape_mmhg=_level_across(trend.time_s, trend.shape_mmhg, steps_s),
    )  # fmt: skip


def _level_across(time_s: Samples, row: Samples, steps_s: Sequence[float]) -> Samples:
    out = row.copy()
    known = np.isfinite(row)
    for at in sorted(steps_s):
        left = out[known & (time_s > at - SIDE_S) & (time_s < at - 0.2)][-SIDE_BEATS:]
        right = out[known & (time_s > at + 0.5) & (time_s < at + SIDE_S)][:SIDE_BEATS]
        if min(left.size, right.size) >= FEWEST:
            out[time_s >= at] += np.median(left) - np.median(right)
    return out


def lost_at_once(
    trend: Trend, course: Course, boluses_s: Sequence[float], end_s: float
) -> float | None:
    """Return when Pd/Pa rose for good from one beat to the next, s, or None.

    A drug loses its effect over many seconds, so a large part of it that is gone within a few
    beats, also across the push of an injection, was a gauge or the wire. The largest such step.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    course : Course
        The arrival.
    boluses_s : sequence of float
        Injections in hyperaemia, s.
    end_s : float
        Pullback or end of the recording, s.
    """
    used = (trend.time_s > course.mid_s + course.width_s / 2.0) & (trend.time_s < end_s)
    wake = np.zeros(trend.time_s.size, dtype=bool)
    first = min(boluses_s, default=end_s)
    before = level_of(trend.time_s, trend.ratio, first - BEFORE_S, first - PUSH_S[0])
    for b in boluses_s:
        used &= ~((trend.time_s > b - PUSH_S[0]) & (trend.time_s < b + PUSH_S[1]))
        wake |= (trend.time_s > b) & (trend.time_s < b + WAKE_S)
    time_s, ratio, wake = trend.time_s[used], trend.ratio[used], wake[used]
    if time_s.size < 2 * BEATS:
        return None
    windows = np.lib.stride_tricks.sliding_window_view(ratio, 2 * BEATS)
    left, right = windows[:, :BEATS], windows[:, BEATS:]
    low = np.median(left, axis=1)
    rise = np.median(right, axis=1) - low
    soon = np.median(right[:, :AT_ONCE], axis=1) - np.median(left[:, -AT_ONCE:], axis=1)
    chance = SPREADS / np.sqrt(BEATS) * 0.5 * (robust_sd(left) + robust_sd(right))
    least = max(LEAST, LEAST_SHARE * float(course.fall[RATIO]))
    at = np.arange(rise.size) + BEATS
    found = (rise > np.maximum(least, chance)) & (soon > AT_ONCE_SHARE * rise)
    found &= time_s[at] - time_s[at - 1] <= LONGEST_S
    if before is not None:
        found &= ~wake[at - 1] | (np.median(right, axis=1) - before > least)
    else:
        found &= ~wake[at - 1]
    if not found.any():
        return None
    return float(time_s[at[np.argmax(np.where(found, rise, 0.0))]])
