"""The course of hyperaemia: one smooth arrival, seen at once in ratio, wave, pressure and rate.

A drug given into a vein arrives as a sigmoid: Pd/Pa falls, Pd's wave is more like a ventricle's, Pa
falls and the rate rises, all with one timing [Johnson2015]. The fit shares middle and width over
the four rows, so an open vessel, whose Pd/Pa hardly falls, still shows when the drug came.
Decision 0036.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.episodes.trend import Trend, running_median
from arteriole.recording.channel import Samples

WIDTHS_S = (12.0, 15.0, 18.0, 21.0, 25.0, 29.0, 33.0, 38.0, 45.0, 54.0)  # 10 to 90 % of the arrival
STEP_S = 1.5  # of the middle's grid
EDGE_S = 4.0  # the middle lies this far inside the stretch
TEN_TO_NINETY = 2.0 * float(np.log(9.0))  # of a logistic curve, in units of its scale
MEDIAN_BEATS = 9  # two breaths
CLIPPED = 3.0  # robust SD beyond which a beat's deviation is cut
FEWEST_BEATS = 20
KNOWN_SHARE = 0.7  # of a row's beats; with fewer it says nothing
SMOOTH_S = 10.0  # two to three breaths
RATIO, WAVE, PRESSURE, RATE = range(4)
SIGNS = np.array([1.0, 1.0, 1.0, -1.0])  # the rate rises, all else falls
BEFORE_S = 75.0  # rest this long before the stretch shows how much the rows wander
WAKE_S = 12.0  # after saline at rest, for the noise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """The arrival: ``mid_s`` half-way, ``width_s`` from 10 to 90 %; rows as ``RATIO`` to ``RATE``.

    ``level`` is the row at rest, ``fall`` how far it went (0: not in the right direction), both of
    shape (4,), in the row's unit, the rate with its sign turned. ``slow`` is the standard deviation
    at rest over breaths, ``spread`` that of single beats. ``gain`` is the log-likelihood per beat
    over no arrival at all.
    """

    mid_s: float
    width_s: float
    level: Samples
    fall: Samples
    slow: Samples
    spread: Samples
    gain: float

    def at(self, share: float) -> float:
        """Return when this share of the arrival was over, s."""
        return self.mid_s + self.width_s / TEN_TO_NINETY * float(np.log(share / (1.0 - share)))


def rows_of(trend: Trend) -> Samples:
    """Return the four rows, shape (4, n), each falling as hyperaemia comes."""
    rows = (trend.ratio, trend.shape_mmhg, trend.pa_mmhg, trend.rate_bpm)
    return np.asarray(np.array([_filled(row) for row in rows]) * SIGNS[:, None])


def without_outliers(row: Samples) -> Samples:
    """Return the row with single beats drawn in to ``CLIPPED`` robust SD; shape (n,)."""
    level = running_median(row, MEDIAN_BEATS)
    off = row - level
    spread = 1.4826 * float(np.median(np.abs(off))) + 1e-9
    return np.asarray(level + np.clip(off, -CLIPPED * spread, CLIPPED * spread))


def smoothed(time_s: Samples, row: Samples, width_s: float = SMOOTH_S) -> Samples:
    """Return the centred mean over ``width_s`` of a row freed of single beats; shape (n,)."""
    total = np.concatenate(([0.0], np.cumsum(running_median(row, 5))))
    first = np.searchsorted(time_s, time_s - width_s / 2.0)
    last = np.searchsorted(time_s, time_s + width_s / 2.0, side="right")
    return np.asarray((total[last] - total[first]) / (last - first))


def fit_course(
    trend: Trend, from_s: float, until_s: float, boluses_s: Sequence[float] = (),
    still_from_s: float | None = None,
) -> Course | None:  # fmt: skip
    """Return the arrival inside a stretch that begins at rest and ends before anything else.

    Parameters
    ----------
    trend : Trend
        Clean beats of the recording.
    from_s, until_s : float
        The stretch, s: after the last act at rest, before the first in hyperaemia.
    boluses_s : sequence of float
        Injections at rest, s; their wake does not count as wandering.
    still_from_s : float or None
        From when the vessel was at rest, at most ``BEFORE_S`` ago; None: that long ago.

    Look-ahead: the stretch. None with fewer than ``FEWEST_BEATS`` clean beats, or where no row
    moves in its direction.
    """
    part = trend.between(from_s, until_s)
    if part.time_s.size < FEWEST_BEATS or until_s - from_s < 4.0 * EDGE_S:
        return None
    y = np.array([without_outliers(row) for row in rows_of(part)])
    mean = y.mean(axis=1, keepdims=True)
    plain = ((y - mean) ** 2).sum(axis=1) + 1e-12
    mids = np.arange(from_s + EDGE_S, until_s - EDGE_S, STEP_S)
    best: tuple[float, float, float, Samples, Samples, Samples] | None = None
    for width in WIDTHS_S:
        way = (part.time_s[None, :] - mids[:, None]) * (TEN_TO_NINETY / width)
        arrived = 1.0 / (1.0 + np.exp(-np.clip(way, -50.0, 50.0)))
        centre = arrived.mean(axis=1, keepdims=True)
        own = arrived - centre
        size = (own**2).sum(axis=1) + 1e-9
        fall = np.maximum(-(y - mean) @ own.T / size, 0.0)
        left = np.maximum(plain[:, None] - fall**2 * size, 1e-9 * plain[:, None])
        gains = np.log(plain[:, None] / left).sum(axis=0)
        k = int(np.argmax(gains))
        if best is None or gains[k] > best[0]:
            level = mean[:, 0] + fall[:, k] * centre[k, 0]
            spread = np.sqrt(left[:, k] / part.time_s.size)
            best = (float(gains[k]), float(mids[k]), width, fall[:, k], level, spread)
    if best is None or not np.any(best[3] > 0.0):
        return None
    gain, mid, width, fall_at, level, spread = best
    still = max(from_s - BEFORE_S, -np.inf if still_from_s is None else still_from_s)
    slow = _wandering(trend, min(still, from_s), mid - width, spread, boluses_s)
    return Course(
        mid_s=mid, width_s=width, level=level, fall=fall_at, spread=spread, gain=gain, slow=slow
    )


def effect(trend: Trend, course: Course, rows: tuple[int, ...]) -> Samples | None:
    """Return the effect of each beat from these rows, shape (n,): 0 at rest, 1 once arrived.

    Each row counts by how clearly it fell against its own wandering. None where none fell.
    """
    steady = np.maximum(course.slow, course.spread / 6.0)  # a mean of some forty beats at best
    weight = np.zeros(4)
    for k in rows:
        weight[k] = (course.fall[k] / max(float(steady[k]), 1e-9)) ** 2
    if weight.sum() <= 0.0:
        return None
    weight /= weight.sum()
    y = rows_of(trend)
    total = np.zeros(trend.time_s.size)
    for k in rows:
        if course.fall[k] > 0.0:
            total += weight[k] * (course.level[k] - y[k]) / course.fall[k]
    return total


def _filled(row: Samples) -> Samples:
    """Return the row with unknown beats drawn in; all the same where too few are known."""
    known = np.isfinite(row)
    if known.all():
        return row
    if float(known.mean()) < KNOWN_SHARE:
        return np.zeros(row.size)
    beat = np.arange(row.size)
    return np.asarray(np.interp(beat, beat[known], row[known]))


def _wandering(
    trend: Trend, from_s: float, until_s: float, spread: Samples, boluses_s: Sequence[float]
) -> Samples:
    """Return the slow standard deviation of each row at rest, wakes of boluses left out."""
    used = (trend.time_s >= from_s) & (trend.time_s < until_s)
    for at in boluses_s:
        used &= ~((trend.time_s > at - SMOOTH_S / 2.0) & (trend.time_s < at + WAKE_S))
    if int(used.sum()) < FEWEST_BEATS // 2:
        return np.asarray(spread / 2.0)
    rows = rows_of(trend)
    return np.array([float(np.std(smoothed(trend.time_s, row)[used])) for row in rows])
