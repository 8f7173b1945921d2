"""Beats of a recording: found on Pa, on Pd where Pa is lost."""

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal.beats import Beats, Flags, Indices
from arteriole.signal.delay import delayed, find_delay
from arteriole.signal.grid import Grid
from arteriole.signal.landmarks import find_feet, find_notches, find_peaks, smoothed
from arteriole.signal.ratios import (
    Means,
    diastolic_windows,
    extremes,
    lowest_ratio,
)  # fmt: skip
from arteriole.signal.smooth import rolling_median
from arteriole.signal.upstrokes import find_upstrokes

LONGEST_S = 3.0  # a beat is never longer: 20 per minute; our choice, decision 0030
LONG = 1.5  # times the usual beat: room for a beat that Pa does not show
USUAL_BEATS = 15  # beats around, whose median length is the usual one
PARTNER_S = 0.15  # upstrokes of Pa and Pd of one beat lie this near


def find_beats(grid: Grid) -> Beats:
    """Return the beats of the grid with landmarks, means and ratios.

    Look-ahead: half of ``upstrokes.LOOK_BLOCKS`` blocks, then to the end of the beat; delay and
    the usual place of the notch use what is known so far.
    """
    rate = grid.rate_hz
    pa_up = find_upstrokes(grid.pa_mmhg, rate)
    pd_up = find_upstrokes(grid.pd_mmhg, rate)
    pa_up = _without_partnerless(pa_up, pd_up, rate)
    pa_smooth, pd_smooth = smoothed(grid.pa_mmhg, rate), smoothed(grid.pd_mmhg, rate)
    pa_feet = find_feet(pa_smooth, pa_up, rate)
    pd_feet = find_feet(pd_smooth, pd_up, rate)
    delay_s, delay_sd_s = find_delay(grid.pa_mmhg, grid.pd_mmhg, pa_feet, rate)
    start, end, up, on_pd = _joined((pa_feet, pa_up), (pd_feet, pd_up), round(delay_s * rate), grid)
    peak = _either(on_pd, find_peaks(pa_smooth, up, end, rate),
                   find_peaks(pd_smooth, up, end, rate))  # fmt: skip
    notch = np.full(start.shape, -1, dtype=np.int64)
    for chosen, row in ((~on_pd, pa_smooth), (on_pd, pd_smooth)):
        notch[chosen] = find_notches(row, start[chosen], peak[chosen], end[chosen], rate)
    late_pd = delayed(grid.pd_mmhg, delay_s, rate)
    pa, pd = Means(grid.pa_mmhg), Means(late_pd)
    whole, middle, late = diastolic_windows(pa, pd, notch, end, rate)
    lowest = lowest_ratio(grid.pa_mmhg, late_pd, start, end, rate)
    return Beats(
        rate_hz=rate,
        start_s=grid.start_s + start / rate,
        end_s=grid.start_s + end / rate,
        start_i=start,
        end_i=end,
        peak_i=peak,
        notch_i=notch,
        on_pd=on_pd,
        pa_mean_mmhg=pa.between(start, end),
        pd_mean_mmhg=pd.between(start, end),
        pa_systolic_mmhg=extremes(np.maximum, pa_smooth, start, end),
        pa_diastolic_mmhg=extremes(np.minimum, pa_smooth, start, end),
        pd_systolic_mmhg=extremes(np.maximum, pd_smooth, start, end),
        pd_diastolic_mmhg=extremes(np.minimum, pd_smooth, start, end),
        full_cycle=np.where(on_pd, np.nan, lowest),
        pa_dia_mean_mmhg=whole.pa_mmhg,
        pd_dia_mean_mmhg=whole.pd_mmhg,
        pa_mid_mean_mmhg=middle.pa_mmhg,
        pd_mid_mean_mmhg=middle.pd_mmhg,
        pa_late_mean_mmhg=late.pa_mmhg,
        pd_late_mean_mmhg=late.pd_mmhg,
        delay_s=delay_s,
        delay_sd_s=delay_sd_s,
    )


def _either(on_pd: Flags, on_pa_value: Indices, on_pd_value: Indices) -> Indices:
    return np.asarray(np.where(on_pd, on_pd_value, on_pa_value), dtype=np.int64)


def _usual(feet: Indices) -> Samples:
    """Return the usual beat length around each foot but the last, in samples."""
    lengths: Samples = np.diff(feet).astype(np.float64)
    return rolling_median(lengths, USUAL_BEATS)


def _without_partnerless(pa_up: Indices, pd_up: Indices, rate_hz: float) -> Indices:
    """Return Pa's upstrokes without those that Pd, beating before and after, does not show.

    A tap that opens or closes lifts Pa at once; Pd beats on without a rise there.
    """
    if pa_up.size == 0 or pd_up.size < USUAL_BEATS:
        return pa_up
    after = np.searchsorted(pd_up, pa_up)
    before_i, after_i = np.clip(after - 1, 0, None), np.clip(after, None, pd_up.size - 1)
    to_before, to_after = np.abs(pa_up - pd_up[before_i]), np.abs(pd_up[after_i] - pa_up)
    near = np.minimum(to_before, to_after) <= PARTNER_S * rate_hz
    usual = np.append(_usual(pd_up), np.inf)
    inside = (after > 0) & (after < pd_up.size)
    beating = inside & (pd_up[after_i] - pd_up[before_i] <= LONG * usual[before_i])
    return np.asarray(pa_up[near | ~beating], dtype=np.int64)


def _joined(
    on_pa: tuple[Indices, Indices], on_pd: tuple[Indices, Indices], delay: int, grid: Grid
) -> tuple[Indices, Indices, Indices, Flags]:
    """Return starts, ends, upstrokes and whether Pd gave the beat.

    Between two feet of Pa that lie too far apart, or over lost samples, Pd's beats stand in.
    """
    pa_feet, pa_up = _rising(*on_pa)
    pd_feet, pd_up = _rising(*on_pd)
    pd_feet, pd_up = pd_feet + delay, pd_up + delay
    longest = LONGEST_S * grid.rate_hz
    lost = np.concatenate(([0], np.cumsum(np.isnan(grid.pa_mmhg))))
    length = np.diff(pa_feet)
    whole = (length <= longest) & (lost[pa_feet[1:]] == lost[pa_feet[:-1]])
    reach = round(PARTNER_S * grid.rate_hz)
    inside = np.searchsorted(pd_up, pa_up[1:] - reach) - np.searchsorted(pd_up, pa_up[:-1] + reach)
    missed = (length > LONG * _usual(pa_feet)) & (inside >= 1)
    use = whole & ~missed
    start, end, up = pa_feet[:-1][use], pa_feet[1:][use], pa_up[:-1][use]
    p_start, p_end, p_up = pd_feet[:-1], pd_feet[1:], pd_up[:-1]
    ok = (p_end - p_start <= longest) & (p_start >= 0) & (p_end < grid.samples)
    covered = np.zeros(grid.samples + 1, dtype=np.int64)
    np.add.at(covered, start, 1)
    np.add.at(covered, end, -1)
    sums = np.concatenate(([0], np.cumsum(np.cumsum(covered)[:-1])))
    a = np.clip(p_start, 0, grid.samples)
    b = np.clip(p_end, 0, grid.samples)
    ok &= sums[b] - sums[a] <= reach
    pd_lost = np.concatenate(([0], np.cumsum(np.isnan(grid.pd_mmhg))))
    ok &= pd_lost[b] == pd_lost[a]
    starts = np.concatenate((start, p_start[ok]))
    order = np.argsort(starts, kind="stable")
    return (
        starts[order],
        np.concatenate((end, p_end[ok]))[order],
        np.concatenate((up, p_up[ok]))[order],
        np.concatenate((np.zeros(start.size, np.bool_), np.ones(int(ok.sum()), np.bool_)))[order],
    )


def _rising(feet: Indices, upstrokes: Indices) -> tuple[Indices, Indices]:
    """Return feet and upstrokes without feet that do not come after the one before."""
    keep = np.diff(feet, prepend=-1) > 0
    return feet[keep], upstrokes[keep]
