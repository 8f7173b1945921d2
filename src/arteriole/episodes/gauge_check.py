"""Gauge checks: both sensors at the guide tip, before the wire goes in and after it is back."""

import numpy as np

from arteriole.episodes.gauge import GaugeReading
from arteriole.recording.channel import Samples
from arteriole.recording.settings import Settings
from arteriole.signal import Beats
from arteriole.signal.graded import Quality

LEAST_FOR_GAIN = 3
MEDIAN_SD = 1.2533  # standard error of a median over that of a mean, normal: sqrt(pi / 2)
MIN_BEATS = 2  # one beat gives no spread
#: Systematic part of an offset read from a few beats, mmHg: wave shapes differ between a fluid line
#: and a sensor at the tip; our choice, decision 0042.
FLOOR_MMHG = 0.15
RATIOS = (0.97, 1.03)  # Pd/Pa at the guide tip outside has drifted [Matsumura2017]


def reading(
    beats: Beats, quality: Quality, start_s: float, end_s: float, settings: Settings
) -> GaugeReading:
    """Return offset, ratio, gain and lag over the clean beats of a stretch at the guide tip.

    "off" beyond ``settings.drift_off_mmhg`` or ``RATIOS``; "not checked" when fewer than two clean
    beats lie in it. The ratio is that of means.
    """
    used = beats.between(start_s, end_s) & quality.pa_ok & quality.pd_ok
    used &= np.isfinite(beats.pa_mean_mmhg) & np.isfinite(beats.pd_mean_mmhg)
    n = int(used.sum())
    if n < MIN_BEATS:
        return GaugeReading()
    weight = beats.length_s[used]
    pa, pd = beats.pa_mean_mmhg[used], beats.pd_mean_mmhg[used]
    gap = pd - pa
    offset = float(np.average(gap, weights=weight))
    spread = float(np.std(gap, ddof=1)) / np.sqrt(n)
    gain, gain_sd = _gain(
        (beats.pa_systolic_mmhg - beats.pa_diastolic_mmhg)[used],
        (beats.pd_systolic_mmhg - beats.pd_diastolic_mmhg)[used],
    )
    ratio = float(np.average(pd, weights=weight) / np.average(pa, weights=weight))
    matched = abs(offset) <= settings.drift_off_mmhg and RATIOS[0] <= ratio <= RATIOS[1]
    return GaugeReading(
        state="matched" if matched else "off",
        offset_mmhg=offset,
        offset_sd_mmhg=float(np.hypot(spread, FLOOR_MMHG)),
        ratio=ratio,
        gain=gain,
        gain_sd=gain_sd,
        lag_s=beats.delay_s,
        lag_sd_s=beats.delay_sd_s,
        start_s=float(beats.start_s[used][0]),
        end_s=float(beats.end_s[used][-1]),
        beats=n,
    )


def _gain(pa_mmhg: Samples, pd_mmhg: Samples) -> tuple[float | None, float | None]:
    """Return the median over beats of Pd's pulse over Pa's, shape (n,) each, and its SD.

    A beat whose top or foot was lost has a mean and no pulse: it tells nothing here.
    """
    known = np.isfinite(pa_mmhg) & np.isfinite(pd_mmhg)
    pa_mmhg, pd_mmhg = pa_mmhg[known], pd_mmhg[known]
    if not pa_mmhg.size or not (pa_mmhg > 0.0).all():
        return None, None
    ratio = pd_mmhg / pa_mmhg
    if ratio.size < LEAST_FOR_GAIN:
        return float(np.median(ratio)), None
    spread = float(np.std(ratio, ddof=1))
    return float(np.median(ratio)), MEDIAN_SD * spread / float(np.sqrt(ratio.size))
