"""The ratio of means from beat to beat, on clean beats, and how it moves."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal import Beats
from arteriole.signal.graded import Quality

MEDIAN_BEATS = 7  # a run of beats that one breath cannot move; our choice, decision 0040


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trend:
    """Clean beats in time order; arrays of shape (n,).

    ``ratio`` is Pd/Pa of the beat, ``level`` its running median over ``MEDIAN_BEATS``;
    ``shape_mmhg`` is the gap Pd minus Pa in diastole less the gap over the whole beat: 0 where both
    sensors see the same wave, whatever the offset; negative behind a resistance; NaN where Pa is
    damped, for that rounds its wave off and keeps its mean. ``cut``: made of beats that the range
    cuts, so that it tells times and states and no value.
    """

    time_s: Samples
    ratio: Samples
    level: Samples
    pa_mmhg: Samples
    pd_mmhg: Samples
    shape_mmhg: Samples
    rate_bpm: Samples
    cut: bool = False

    def between(self, start_s: float, end_s: float) -> "Trend":
        """Return the part whose beats start in the stretch."""
        return self.within(((start_s, end_s),))

    def within(self, windows_s: Sequence[tuple[float, float]]) -> "Trend":
        """Return the part whose beats start in any of the stretches."""
        keep = np.zeros(self.time_s.size, dtype=bool)
        for start_s, end_s in windows_s:
            keep |= (self.time_s >= start_s) & (self.time_s < end_s)
        return Trend(
            time_s=self.time_s[keep], ratio=self.ratio[keep], level=self.level[keep],
            pa_mmhg=self.pa_mmhg[keep], pd_mmhg=self.pd_mmhg[keep],
            shape_mmhg=self.shape_mmhg[keep], rate_bpm=self.rate_bpm[keep], cut=self.cut,
        )  # fmt: skip

    @property
    def noise(self) -> float:
        """Standard deviation of a beat's ratio about its running median (robust)."""
        if self.ratio.size < MEDIAN_BEATS:
            return 0.0
        return float(1.4826 * np.median(np.abs(self.ratio - self.level)))


def running_median(values: Samples, width: int) -> Samples:
    """Return the centred running median, ends padded with the end values; shape (n,)."""
    if values.size == 0:
        return values
    half = width // 2
    padded = np.pad(values, half, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    return np.asarray(np.median(windows, axis=1))


def trend_of(beats: Beats, quality: Quality) -> Trend:
    """Return the trend over all clean beats whose means are known.

    Where the range cuts nearly every beat, so that none stands, the cut ones make it up: their
    means are off by about as much from beat to beat, so that they still tell when something
    changed. No value is taken from them. Decision 0101.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = beats.pd_mean_mmhg / beats.pa_mean_mmhg
    known = np.isfinite(ratio) & (beats.pa_mean_mmhg > 0)
    keep = quality.clean & known
    cut = known & np.array([cause == "signal_clipped" for cause in quality.cause], dtype=bool)
    all_cut = bool(cut.any()) and not keep.any()
    if all_cut:
        keep = cut
    ratio = ratio[keep]
    gap_dia = (beats.pd_dia_mean_mmhg - beats.pa_dia_mean_mmhg)[keep]
    gap_all = (beats.pd_mean_mmhg - beats.pa_mean_mmhg)[keep]
    damped = np.array([cause == "pa_damped" for cause in quality.cause], dtype=bool)[keep]
    return Trend(
        time_s=beats.start_s[keep], ratio=ratio, level=running_median(ratio, MEDIAN_BEATS),
        pa_mmhg=beats.pa_mean_mmhg[keep], pd_mmhg=beats.pd_mean_mmhg[keep],
        shape_mmhg=np.where(damped, np.nan, gap_dia - gap_all),
        rate_bpm=60.0 / beats.length_s[keep], cut=all_cut,
    )  # fmt: skip
