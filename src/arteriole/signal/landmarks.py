r"""Feet, systolic peaks and dicrotic notches of pressure beats.

peak
/-.
/   \__ notch
/       `-._
foot __/            `-.__ next foot
"""

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples
from arteriole.signal.beats import Flags, Indices
from arteriole.signal.smooth import moving_mean, rolling_median

SMOOTH_S = 0.012  # noise of a 12-bit gauge at 500 Hz halves; a foot keeps its place
FOOT_BACK_S = 0.25  # a foot lies at most this long before the steepest rise
FOOT_RISE = 0.02  # of the rise: still "at the foot"; our choice, decision 0031
PEAK_AFTER_S = 0.36  # a systolic peak follows its steepest rise within this
CURVE_S = 0.030  # half the span of the second difference that shows a notch
NOTCH_FIRST, NOTCH_LAST = 0.22, 0.52  # foot to notch over the root of the beat length, s^0.5;
# ejection takes 0.33 to 0.42 of it [Weissler1968]; decision 0031
NOTCH_PEAK_S = 0.05  # a notch is at least this long after the peak
NOTCH_SHARE = 0.85  # and within this share of the beat
NOTCH_STRAY = 0.06  # s^0.5 from the usual place: searched again nearer to it
NOTCH_USUAL = 31  # beats around, whose median is the usual place
NOTCH_DIP_S = 0.05  # a dip this near to the sharpest bend is the notch itself


def window(x: Samples, first: Indices, length: int) -> npt.NDArray[np.float64]:
    """Return ``x`` in windows of ``length`` from each ``first``, shape (windows, length).

    Outside the row the windows hold NaN.
    """
    at = first[:, None] + np.arange(length)[None, :]
    inside = (at >= 0) & (at < x.size)
    return np.where(inside, x[np.clip(at, 0, x.size - 1)], np.nan)


def smoothed(pressure_mmhg: Samples, rate_hz: float) -> Samples:
    """Return the pressure as landmarks are read from it, shape (n,)."""
    return moving_mean(pressure_mmhg, round(SMOOTH_S * rate_hz))


def find_feet(smooth_mmhg: Samples, upstrokes: Indices, rate_hz: float) -> Indices:
    """Return the foot before each upstroke: the last sample still at the lowest level.

    ``smooth_mmhg`` shape (n,), ``upstrokes`` shape (beats,).
    """
    if not upstrokes.size:
        return upstrokes
    back = round(FOOT_BACK_S * rate_hz)
    gap = np.diff(upstrokes, prepend=upstrokes[0] - 2 * back)
    rows = window(smooth_mmhg, upstrokes - back, back + 1)
    # never look past half of the way to the upstroke before
    early = np.arange(back + 1)[None, :] < (back - 0.6 * gap)[:, None]
    rows = np.where(early, np.nan, rows)
    filled = np.where(np.isnan(rows), np.inf, rows)
    low = filled.min(axis=1)
    rise = np.nan_to_num(rows[:, -1], nan=0.0) - np.where(np.isinf(low), 0.0, low)
    near = filled <= (low + 2.0 * FOOT_RISE * rise)[:, None]
    last = back - np.argmax(near[:, ::-1], axis=1)
    return np.asarray(np.clip(upstrokes - back + last, 0, smooth_mmhg.size - 1), dtype=np.int64)


def find_peaks(smooth_mmhg: Samples, upstrokes: Indices, ends: Indices, rate_hz: float) -> Indices:
    """Return the systolic peak after each upstroke, before ``ends``, shape (beats,)."""
    if not upstrokes.size:
        return upstrokes
    length = max(round(PEAK_AFTER_S * rate_hz), 1)
    rows = window(smooth_mmhg, upstrokes, length)
    late = np.arange(length)[None, :] >= (ends - upstrokes)[:, None]
    rows = np.where(late | np.isnan(rows), -np.inf, rows)
    return np.asarray(upstrokes + np.argmax(rows, axis=1), dtype=np.int64)


def find_notches(
    smooth_mmhg: Samples, feet: Indices, peaks: Indices, ends: Indices, rate_hz: float
) -> Indices:
    """Return the dicrotic notch of each beat, -1 where none shows, shape (beats,).

    The notch is where the falling pressure bends upwards most within the time in which ejection
    can end; where a dip lies beside that bend, its lowest sample. Beats that disagree with their
    neighbours are searched again near the neighbours' place.
    """
    if not feet.size:
        return feet
    root = np.sqrt((ends - feet) / rate_hz)
    notches = _sharpest(smooth_mmhg, feet, peaks, ends, rate_hz, root, None)
    place = np.where(notches < 0, np.nan, (notches - feet) / rate_hz / root)
    usual = rolling_median(place, NOTCH_USUAL)
    stray = ~(np.abs(place - usual) <= NOTCH_STRAY) & ~np.isnan(usual)
    if stray.any():
        again = _sharpest(
            smooth_mmhg, feet[stray], peaks[stray], ends[stray], rate_hz, root[stray],
            usual[stray],
        )  # fmt: skip
        notches[stray] = again
    return notches


def _sharpest(
    x: Samples, feet: Indices, peaks: Indices, ends: Indices, rate_hz: float, root: Samples,
    usual: Samples | None,
) -> Indices:  # fmt: skip
    low, high = (
        (np.full(root.shape, NOTCH_FIRST), np.full(root.shape, NOTCH_LAST))
        if usual is None
        else (usual - NOTCH_STRAY, usual + NOTCH_STRAY)
    )
    first = np.maximum(feet + low * root * rate_hz, peaks + NOTCH_PEAK_S * rate_hz)
    last = np.minimum(feet + high * root * rate_hz, feet + NOTCH_SHARE * (ends - feet))
    start = np.floor(first).astype(np.int64)
    length = int(max(np.ceil((last - start).max()), 1)) + 1
    h = max(round(CURVE_S * rate_hz), 1)
    rows = window(x, start - h, length + 2 * h)
    bend = rows[:, : -2 * h] - 2.0 * rows[:, h:-h] + rows[:, 2 * h :]
    beyond: Flags = start[:, None] + np.arange(length)[None, :] > last[:, None]
    bend = np.where(beyond | np.isnan(bend), -np.inf, bend)
    best = np.argmax(bend, axis=1)
    size = bend[np.arange(best.size), best]
    found = start + best
    # a dip beside the bend: lowest sample within reach that is lower than both rims
    d = max(round(NOTCH_DIP_S * rate_hz), 1)
    near = window(x, found - d, 2 * d + 1)
    dip = np.argmin(np.where(np.isnan(near), np.inf, near), axis=1)
    is_dip = (dip > 0) & (dip < 2 * d)
    found = np.where(is_dip, found - d + dip, found)
    return np.asarray(np.where(np.isfinite(size) & (size > 0.0), found, -1), dtype=np.int64)
