"""Samples of any rate on one coarse grid, by exact averaging."""

import numpy as np

from arteriole.recording.channel import Samples

#: Share of a bin that must be covered by samples; our choice, decision 0050.
MIN_COVER = 0.3


def bin_means(
    values: Samples, rate_hz: float, *, start_s: float, from_s: float, step_s: float, bins: int
) -> Samples:
    """Return the mean of the signal in each bin, NaN where too little of it is there.

    Each sample stands for the interval of one step centred on its time, so the mean is exact at
    any ratio of rates and adds no shift in time; a lost sample covers nothing.

    Parameters
    ----------
    values : Samples
        Shape (n,); sample k lies at ``start_s + k / rate_hz``, s.
    rate_hz : float
        Samples per second.
    start_s : float
        Time of the first sample, s.
    from_s : float
        Left edge of the first bin, s.
    step_s : float
        Width of a bin, s.
    bins : int
        Number of bins.
    """
    first = max(int((from_s - start_s) * rate_hz) - 1, 0)
    last = int((from_s + step_s * bins - start_s) * rate_hz) + 3
    values, start_s = values[first:last], start_s + first / rate_hz
    good = np.isfinite(values)
    edges = np.arange(values.size + 1) / rate_hz + start_s - 0.5 / rate_hz
    total = np.concatenate([[0.0], np.cumsum(np.where(good, values, 0.0))])
    cover = np.concatenate([[0.0], np.cumsum(good)])
    at = from_s + step_s * np.arange(bins + 1)
    part = np.diff(np.interp(at, edges, total))
    share = np.diff(np.interp(at, edges, cover))
    enough = share >= MIN_COVER * step_s * rate_hz
    return np.where(enough, part / np.where(enough, share, 1.0), np.nan)


def local_noise(values: Samples) -> float:
    """Return the SD of the sample-to-sample noise, from second differences, NaN ignored.

    Second differences of white noise have six times its variance; a straight drift adds nothing.
    """
    second = values[2:] - 2.0 * values[1:-1] + values[:-2]
    second = second[np.isfinite(second)]
    return float(np.sqrt(np.mean(second**2) / 6.0)) if second.size else 0.0
