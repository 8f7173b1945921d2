"""Ratios of Pd to Pa within the beat, Pd made as late as Pa first.

- full cycle: the lowest Pd/Pa anywhere in the beat, both smoothed over 20 ms [Wienemann2021]
- diastolic: mean Pd / mean Pa from the notch to the next upstroke [vantVeer2017]
- mid-diastolic: the same over 25 to 75 % of diastole [vantVeer2017]
- late-diastolic: from 25 % into diastole to 5 ms before its end [Sen2012]
"""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal.beats import LEAST_PA_MMHG, Indices
from arteriole.signal.smooth import moving_mean, running_sum

SMOOTH_S = 0.020
LATE_FROM, LATE_BEFORE_END_S = 0.25, 0.005
MID = (0.25, 0.75)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """Mean pressures of one window of each beat, shape (beats,), mmHg; NaN = lost."""

    pa_mmhg: Samples
    pd_mmhg: Samples


class Means:
    """Means of stretches of one row, each in constant time; lost samples spoil a stretch."""

    __slots__ = ("_gaps", "_level", "_total")

    def __init__(self, x: Samples) -> None:
        """Sum the row up once."""
        lost = np.isnan(x)
        self._level = 0.0 if lost.all() else float(np.nanmean(x))
        self._total = running_sum(x - self._level)
        self._gaps = np.concatenate(([0], np.cumsum(lost))) if lost.any() else None

    def between(self, start_i: Indices, end_i: Indices) -> Samples:
        """Return the mean of each half-open stretch; NaN where empty or partly lost."""
        length = end_i - start_i
        row = np.full(start_i.shape, np.nan)
        ok = length > 0
        if self._gaps is not None:
            ok &= self._gaps[end_i] == self._gaps[start_i]
        row[ok] = (self._total[end_i[ok]] - self._total[start_i[ok]]) / length[ok] + self._level
        return row


def lowest_ratio(
    pa_mmhg: Samples, pd_mmhg: Samples, start_i: Indices, end_i: Indices, rate_hz: float
) -> Samples:
    """Return the lowest smoothed Pd/Pa of each beat, shape (beats,)."""
    width = round(SMOOTH_S * rate_hz)
    a, d = moving_mean(pa_mmhg, width), moving_mean(pd_mmhg, width)
    good = a >= LEAST_PA_MMHG
    ratio = np.where(good, d / np.where(good, a, 1.0), np.nan)
    return extremes(np.minimum, ratio, start_i, end_i)


def extremes(ufunc: np.ufunc, x: Samples, start_i: Indices, end_i: Indices) -> Samples:
    """Return ``ufunc`` (minimum or maximum) over each half-open stretch; NaN if any is lost."""
    if not start_i.size:
        return np.empty(0)
    padded = np.append(x, x[-1])
    pairs = np.column_stack((start_i, np.maximum(end_i, start_i + 1))).ravel()
    row: Samples = ufunc.reduceat(padded, pairs)[::2]
    return row


def diastolic_windows(
    pa: Means, pd: Means, notch_i: Indices, end_i: Indices, rate_hz: float
) -> tuple[Window, Window, Window]:
    """Return the whole, middle and late window of diastole; -1 as notch gives NaN."""
    known = notch_i >= 0
    start = np.where(known, notch_i, end_i)
    long = end_i - start
    early = start + np.round(LATE_FROM * long).astype(np.int64)
    spans = (
        (start, end_i),
        (start + np.round(MID[0] * long).astype(np.int64),
         start + np.round(MID[1] * long).astype(np.int64)),
        (early, np.maximum(end_i - round(LATE_BEFORE_END_S * rate_hz), early)),
    )  # fmt: skip
    whole, middle, late = (
        Window(pa_mmhg=pa.between(a, b), pd_mmhg=pd.between(a, b)) for a, b in spans
    )
    return whole, middle, late
