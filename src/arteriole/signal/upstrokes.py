"""Systolic upstrokes of one pressure: the steepest rise of every beat.

The pressure is thinned to about 125 Hz and seen through a slope box of 2 x 48 ms. A rise counts
when it is a fair share of the rises around it; a dicrotic wave is a smaller share, an artefact
of seconds does not move the median it is judged by. Look-ahead: ``LOOK_BLOCKS / 2`` blocks.
"""

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal.beats import Flags, Indices
from arteriole.signal.smooth import blocks, rolling_median, slope

THIN_HZ = 120.0  # upstrokes lie below 15 Hz; our choice, decision 0030
BOX_S = 0.048  # half the slope box: under half of the shortest upstroke-to-peak; decision 0030
BLOCK_S = 2.0  # holds a beat at 35 per minute
LOOK_BLOCKS = 9  # blocks whose median is the scale of a rise
SHARE = 0.38  # of the local rise that makes an upstroke; decision 0030
LEAST_MMHG = 2.0  # below this a rise is noise; decision 0030
DICROTIC_EARLY, DICROTIC_SHARE = 0.52, 0.6  # of the usual length, of the rise before
USUAL_BEATS = 15
REFRACTORY_S = 0.22  # two upstrokes are never closer: 270 per minute


def find_upstrokes(pressure_mmhg: Samples, rate_hz: float) -> Indices:
    """Return the sample numbers of the steepest rise of every beat, shape (beats,), rising.

    ``pressure_mmhg`` shape (n,), NaN = lost.
    """
    thin = max(int(rate_hz // THIN_HZ), 1)
    x = blocks(pressure_mmhg, thin)
    rate = rate_hz / thin
    rise = slope(x, max(round(BOX_S * rate), 1))
    if rise.size < 3 or np.isnan(rise).all():
        return np.empty(0, dtype=np.int64)
    rise = np.nan_to_num(rise, nan=-1.0)
    local = _scale(rise, max(round(BLOCK_S * rate), 1))
    inner = rise[1:-1]
    top = (inner >= rise[:-2]) & (inner > rise[2:])
    top &= inner >= np.maximum(SHARE * local[1:-1], LEAST_MMHG)
    found = _apart(np.flatnonzero(top) + 1, rise, round(REFRACTORY_S * rate))
    found = found[~_dicrotic(found, rise)]
    return (found * thin).astype(np.int64)


def _scale(rise: Samples, block: int) -> Samples:
    """Return the usual height of a beat's rise around every sample, shape (n,)."""
    n = -(-rise.size // block)
    padded = np.full(n * block, -1.0)
    padded[: rise.size] = rise
    tops = padded.reshape(n, block).max(axis=1)
    tops = np.where(tops < LEAST_MMHG, np.nan, tops)
    usual = rolling_median(tops, LOOK_BLOCKS)
    return np.repeat(np.nan_to_num(usual, nan=np.inf), block)[: rise.size]


def _dicrotic(found: Indices, height: Samples) -> Flags:
    """Return which rises come within half the usual length and are low: dicrotic waves."""
    if found.size < USUAL_BEATS:
        return np.zeros(found.size, dtype=np.bool_)
    length = np.diff(found, prepend=found[0] - found[1] + found[0]).astype(np.float64)
    share = length / rolling_median(length, USUAL_BEATS)
    low = height[found] < DICROTIC_SHARE * np.roll(height[found], 1)
    return np.asarray((share < DICROTIC_EARLY) & low)


def _apart(found: Indices, height: Samples, least: int) -> Indices:
    """Return the maxima that are at least ``least`` apart, the higher one of two kept."""
    kept: list[int] = []
    for k in found.tolist():
        if kept and k - kept[-1] < least:
            if height[k] > height[kept[-1]]:
                kept[-1] = k
        else:
            kept.append(k)
    return np.asarray(kept, dtype=np.int64)
