"""Gauge checks: both sensors at the guide tip, before the wire goes in and after it is back."""

from collections.abc import Sequence

import numpy as np

from arteriole.episodes.gauge import GaugeReading
from arteriole.episodes.trend import Trend
from arteriole.recording.settings import Settings
from arteriole.signal import Beats
from arteriole.signal.graded import Quality

MIN_BEATS = 2  # one beat gives no spread
#: Systematic part of an offset read from a few beats, mmHg: wave shapes differ between a fluid line
#: and a sensor at the tip; our choice, decision 0042.
FLOOR_MMHG = 0.15
EQUALISED_S = (0.8, 4.4)  # read from shortly after the step on, until the wire may move
TOP_SHARE = 0.85
SIDE_BEATS = 3  # compared before and after a step
STEP, STEP_SPREADS = 0.005, 2.0  # least step in Pd/Pa, and against the spread of either side
EQUALISED_NEAR = 0.14  # an equalisation leaves the ratio at least this near to 1


def reading(
    beats: Beats, quality: Quality, start_s: float, end_s: float, settings: Settings
) -> GaugeReading:
    """Return offset, ratio, gain and lag over the clean beats of a stretch at the guide tip.

    "not checked" when fewer than two clean beats lie in it. The ratio is that of means.
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
    pulse_pa = np.median((beats.pa_systolic_mmhg - beats.pa_diastolic_mmhg)[used])
    pulse_pd = np.median((beats.pd_systolic_mmhg - beats.pd_diastolic_mmhg)[used])
    return GaugeReading(
        state="matched" if abs(offset) <= settings.drift_off_mmhg else "off",
        offset_mmhg=offset,
        offset_sd_mmhg=float(np.hypot(spread, FLOOR_MMHG)),
        ratio=float(np.average(pd, weights=weight) / np.average(pa, weights=weight)),
        gain=float(pulse_pd / pulse_pa) if pulse_pa > 0 else None,
        lag_s=beats.delay_s,
        lag_sd_s=beats.delay_sd_s,
        start_s=float(beats.start_s[used][0]),
        end_s=float(beats.end_s[used][-1]),
        beats=n,
    )


def find_equalisation(
    trend: Trend, from_s: float, before_s: float, disturbed_s: Sequence[tuple[float, float]]
) -> tuple[float, float] | None:
    """Return the stretch just after the gauges were set equal, or None.

    The setting shows as a step in Pd/Pa to near 1 within two beats, while Pa goes on as before.
    Where the gauges agreed already no step is seen; then it is the last stretch before the ratio
    leaves its first level. Look-ahead: 5 s.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    from_s, before_s : float
        The wire is in blood; before the first act that needs it in place, s.
    disturbed_s : sequence of (float, float)
        Cold stretches, where a step means nothing, s.
    """
    part = trend.between(from_s, before_s)
    t, ratio = part.time_s, part.ratio
    if t.size < 4 * SIDE_BEATS:
        return None
    windows = np.lib.stride_tricks.sliding_window_view(ratio, SIDE_BEATS)
    middle, spread = np.median(windows, axis=1), np.ptp(windows, axis=1)
    gap = SIDE_BEATS + 1  # one beat between the sides may hold the setting itself
    step = middle[gap:] - middle[:-gap]
    calm = np.maximum(spread[gap:], spread[:-gap])
    at = t[SIDE_BEATS : SIDE_BEATS + step.size]
    near = t[gap : gap + step.size] - t[: step.size] < 3.0 * SIDE_BEATS
    free = np.ones(step.size, dtype=bool)
    for a, b in disturbed_s:
        free &= (at < a - 4.0) | (at > b + 3.0)
    hits = np.flatnonzero(
        near & free & (np.abs(step) > np.maximum(STEP, STEP_SPREADS * calm))
        & (np.abs(middle[gap:] - 1.0) <= EQUALISED_NEAR)
    )  # fmt: skip
    if hits.size:
        ends = np.flatnonzero(np.diff(hits) > 1)
        run = hits[: ends[0] + 1] if ends.size else hits
        size = np.abs(step[run])
        top = run[size >= TOP_SHARE * size.max()]  # medians make the step a flat top
        first = top[top.size // 2]
        start = float(t[first + SIDE_BEATS])
        return start, start + EQUALISED_S[1]
    return _agreed_stretch(part, disturbed_s)


def _agreed_stretch(
    part: Trend, disturbed_s: Sequence[tuple[float, float]]
) -> tuple[float, float] | None:
    """Return the last seconds at the guide where no setting was seen, or None."""
    free = np.ones(part.time_s.size, dtype=bool)
    for a, b in disturbed_s:
        free &= (part.time_s < a - 1.0) | (part.time_s > b + 4.0)
    t, level = part.time_s[free], part.level[free]
    if t.size < 12:
        return None
    first = float(np.median(level[:8]))
    if abs(first - 1.0) > EQUALISED_NEAR / 4.0:
        return None
    gone = np.flatnonzero(np.abs(level - first) > max(2.0 * STEP, 4.0 * part.noise))
    if not gone.size or gone[0] < 10:
        return None
    end = float(t[gone[0]]) - 2.0
    return end - EQUALISED_S[1], end
