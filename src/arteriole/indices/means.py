"""Beats to pressures of a state: ratio of means over whole beats, never mean of ratios."""

from dataclasses import dataclass

import numpy as np

from arteriole.indices.evidence import Pressures
from arteriole.recording.channel import Samples
from arteriole.signal.beats import Beats, Flags

LEAST_BEATS = 3  # published readings average over 3 to 5 beats
#: Beats of one breath are alike: every this many count as one; our choice, decision 0061.
ALIKE_BEATS = 3.0


def standard_error(row: Samples) -> float:
    """Return the standard error of the mean of ``row``, shape (n,), beats of one breath alike."""
    good = row[np.isfinite(row)]
    if good.size < LEAST_BEATS:
        return 0.0
    return float(np.std(good, ddof=1) / np.sqrt(max(good.size / ALIKE_BEATS, 1.0)))


def pressures_of(
    beats: Beats, used: Flags, *, shaped: Flags | None = None, windowed: Flags | None = None
) -> Pressures | None:
    """Return means and ratios over the beats ``used``, shape (n,), or None below three beats.

    A windowed ratio is the ratio of means weighted by beat length; the full-cycle ratio is the
    mean of the beats' own lowest ratios. ``shaped``: beats whose instantaneous ratio and systolic
    Pa can be read, ``windowed``: whose diastole can, shape (n,); None = all.
    """
    whole = used & np.isfinite(beats.pa_mean_mmhg) & np.isfinite(beats.pd_mean_mmhg)
    if int(whole.sum()) < LEAST_BEATS:
        return None
    length = beats.length_s
    pa = _mean(beats.pa_mean_mmhg, whole, length)
    pd = _mean(beats.pd_mean_mmhg, whole, length)
    ratios: dict[str, float] = {}
    window_pa: dict[str, float] = {}
    spread = {"pd_pa": standard_error(beats.pd_mean_mmhg[whole] / beats.pa_mean_mmhg[whole])}
    for name, top, bottom in (
        ("diastolic_ratio", beats.pd_dia_mean_mmhg, beats.pa_dia_mean_mmhg),
        ("mid_diastolic_ratio", beats.pd_mid_mean_mmhg, beats.pa_mid_mean_mmhg),
        ("late_diastolic_ratio", beats.pd_late_mean_mmhg, beats.pa_late_mean_mmhg),
    ):
        good = whole & np.isfinite(top) & np.isfinite(bottom) & (bottom > 0.0) & ~beats.on_pd
        good &= True if windowed is None else windowed
        if int(good.sum()) >= LEAST_BEATS:
            window_pa[name] = _mean(bottom, good, length)
            ratios[name] = _mean(top, good, length) / window_pa[name]
            spread[name] = standard_error(top[good] / bottom[good])
    good = whole & np.isfinite(beats.full_cycle) & ~beats.on_pd
    good &= True if shaped is None else shaped
    if int(good.sum()) >= LEAST_BEATS:
        ratios["full_cycle_ratio"] = float(np.mean(beats.full_cycle[good]))
        spread["full_cycle_ratio"] = standard_error(beats.full_cycle[good])
    if "diastolic_ratio" in window_pa:  # the lowest ratio lies in diastole
        window_pa["full_cycle_ratio"] = window_pa["diastolic_ratio"]
    # damped or ringing beats hold the mean of Pa and not its peak
    peaked = whole & np.isfinite(beats.pa_systolic_mmhg) & (True if shaped is None else shaped)
    start, end = float(beats.start_s[whole][0]), float(beats.end_s[whole][-1])
    return Pressures(
        pa_mmhg=pa, pd_mmhg=pd, start_s=start, end_s=end, beats=int(whole.sum()),
        pa_systolic_mmhg=_mean(beats.pa_systolic_mmhg, peaked, length)
        if int(peaked.sum()) >= LEAST_BEATS else None,
        heart_rate_bpm=60.0 / float(np.median(length[whole])),
        ratios=ratios, ratio_sd=spread, window_pa_mmhg=window_pa, middle_s=(start + end) / 2.0,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class LowestMean:
    """The run of consecutive beats with the lowest ratio of means."""

    pa_mmhg: float
    pd_mmhg: float
    start_s: float
    end_s: float
    beats: int
    ratio_sd: float

    @property
    def ratio(self) -> float:
        """Mean Pd over mean Pa."""
        return self.pd_mmhg / self.pa_mmhg


def lowest_mean(
    beats: Beats, clean: Flags, windows_s: tuple[tuple[float, float], ...], count: int
) -> LowestMean | None:
    """Return the lowest mean over ``count`` consecutive clean beats inside the windows.

    Beats left out for damage break a run: the beats of a run follow each other in time.
    None where no window holds such a run.
    """
    good = np.isfinite(beats.pa_mean_mmhg) & np.isfinite(beats.pd_mean_mmhg)
    inside = np.zeros(beats.count, dtype=bool)
    for start, end in windows_s:
        inside |= beats.between(start, end)
    keep = np.flatnonzero(clean & inside & good)
    if keep.size < count:
        return None
    length = beats.length_s[keep]
    gap = beats.start_s[keep[1:]] - beats.end_s[keep[:-1]]
    joined = np.concatenate((gap < 0.5 * float(np.median(length)), [True]))
    broken = np.concatenate(([0], np.cumsum(~joined)))
    n = keep.size - count + 1
    runs_on = broken[count - 1 : count - 1 + n] == broken[:n]
    if not runs_on.any():
        return None
    sums = [
        np.convolve(row, np.ones(count), "valid")
        for row in (
            beats.pa_mean_mmhg[keep] * length, beats.pd_mean_mmhg[keep] * length, length
        )
    ]  # fmt: skip
    ratio = np.where(runs_on & (sums[0] > 0.0), sums[1] / sums[0], np.inf)
    k = int(np.argmin(ratio))
    run = keep[k : k + count]
    return LowestMean(
        pa_mmhg=float(sums[0][k] / sums[2][k]), pd_mmhg=float(sums[1][k] / sums[2][k]),
        start_s=float(beats.start_s[run[0]]), end_s=float(beats.end_s[run[-1]]), beats=count,
        ratio_sd=standard_error(beats.pd_mean_mmhg[run] / beats.pa_mean_mmhg[run]),
    )  # fmt: skip


def _mean(row: Samples, used: Flags, weight: Samples) -> float:
    return float(np.average(row[used], weights=weight[used]))
