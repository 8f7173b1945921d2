"""R waves of the ECG, to confirm what the pressure says of the rhythm.

The steepest changes of the ECG over 10 ms, squared and summed over 60 ms, as in the filter chain of
[Pan1985]; judged by the median of the largest of nine 2 s blocks. Polarity does not matter.
Look-ahead: half of those blocks.
"""

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal.beats import Indices
from arteriole.signal.smooth import moving_mean, rolling_median, slope

STEP_S, SUM_S = 0.010, 0.060
BLOCK_S, LOOK_BLOCKS = 2.0, 9
SHARE = 0.15  # of the local energy; an R wave half as high has a quarter; decision 0030
REFRACTORY_S = 0.22
BEFORE_FOOT_S = 0.30  # an R wave lies at most this long before the pressure's foot


def find_r_waves(ecg_mv: Samples, rate_hz: float) -> Indices:
    """Return the sample numbers of the R waves, shape (waves,), rising; empty without an ECG."""
    change = np.nan_to_num(slope(ecg_mv, max(round(STEP_S * rate_hz), 1)))
    energy = moving_mean(change * change, round(SUM_S * rate_hz))
    block = max(round(BLOCK_S * rate_hz), 1)
    count = -(-energy.size // block)
    if count == 0 or not energy.any():
        return np.empty(0, dtype=np.int64)
    padded = np.zeros(count * block)
    padded[: energy.size] = energy
    scale = rolling_median(padded.reshape(count, block).max(axis=1), LOOK_BLOCKS)
    above = energy > SHARE * np.repeat(scale, block)[: energy.size]
    tops = above[1:-1] & (energy[1:-1] >= energy[:-2]) & (energy[1:-1] > energy[2:])
    least, kept = round(REFRACTORY_S * rate_hz), list[int]()
    for k in (np.flatnonzero(tops) + 1).tolist():
        if kept and k - kept[-1] < least:
            if energy[k] > energy[kept[-1]]:
                kept[-1] = k
        else:
            kept.append(k)
    return np.asarray(kept, dtype=np.int64)


def waves_per_beat(waves: Indices, start_i: Indices, end_i: Indices, rate_hz: float) -> Indices:
    """Return how many R waves belong to each beat, foot to foot, shape (beats,).

    The wave of a beat lies before its foot; the median distance is taken off first.
    """
    if not waves.size or not start_i.size:
        return np.zeros(start_i.shape, dtype=np.int64)
    before = np.searchsorted(waves, start_i, side="right") - 1
    distance = (start_i - waves[np.clip(before, 0, None)])[before >= 0]
    near = distance[distance <= BEFORE_FOOT_S * rate_hz]
    lead = int(np.median(near)) if near.size else 0
    margin = round(0.08 * rate_hz)
    first = np.searchsorted(waves, start_i - lead - margin)
    last = np.searchsorted(waves, end_i - lead - margin)
    return np.asarray(last - first, dtype=np.int64)
