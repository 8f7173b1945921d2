"""How late Pa arrives: a fluid-filled line delays what the wire's sensor sees at once."""

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal.beats import Indices
from arteriole.signal.landmarks import window

LOOK_S = 0.08  # largest delay looked for, either way; our choice, decision 0032
BEFORE_S, AFTER_S = 0.06, 0.16  # around the foot: the upstroke
ALIKE = 0.90  # correlation of the two upstrokes from which a beat counts
BEST = 0.25  # share of the alike beats, the most alike, that give the delay
FEWEST = 5  # beats, and samples of an upstroke
SMOOTH_S = 0.028  # of the upstrokes compared; keeps what lies below 15 Hz
MOST_BEATS = 400  # spread over the recording; more add nothing


def find_delay(pa_mmhg: Samples, pd_mmhg: Samples, feet: Indices, rate_hz: float) -> tuple[
    float, float
]:  # fmt: skip
    """Return (delay of Pa behind Pd, its standard deviation over beats), s; (0, 0) if unknown.

    The upstrokes of both pressures are laid over each other, beat by beat. The most alike beats
    decide: there the sensor lies at the guide tip or behind little resistance, so that a shift
    in time is all that parts them.
    """
    pick = feet[np.linspace(0, feet.size - 1, min(feet.size, MOST_BEATS)).astype(int)]
    before, after = round(BEFORE_S * rate_hz), round(AFTER_S * rate_hz)
    look = max(round(LOOK_S * rate_hz), 1)
    width = round(SMOOTH_S * rate_hz)
    if not pick.size or before + after < FEWEST:
        return 0.0, 0.0
    a = window(pa_mmhg, pick - before, before + after)
    d = window(pd_mmhg, pick - before - look, before + after + 2 * look)
    good = ~(np.isnan(a).any(axis=1) | np.isnan(d).any(axis=1))
    if int(good.sum()) < FEWEST:
        return 0.0, 0.0
    a, d = _steps(a[good], width), _steps(d[good], width)
    lags = np.arange(2 * look + 1)
    match = np.stack([_alike(a, d[:, k : k + a.shape[1]]) for k in lags], axis=1)
    best = np.argmax(match, axis=1)
    rows = np.arange(best.size)
    height = match[rows, best]
    inner = (best > 0) & (best < lags.size - 1) & (height >= ALIKE)
    if int(inner.sum()) < FEWEST:
        return 0.0, 0.0
    rows, best, height = rows[inner], best[inner], height[inner]
    left, right = match[rows, best - 1], match[rows, best + 1]
    lag = best + 0.5 * (left - right) / np.minimum(left - 2.0 * height + right, -1e-12)
    top = height >= np.quantile(height, 1.0 - BEST) if height.size > 2 * FEWEST else height > 0.0
    delays = (look - lag[top]) / rate_hz  # Pd earlier in its window: Pa is late
    middle = float(np.median(delays))
    spread = 1.4826 * float(np.median(np.abs(delays - middle)))
    return middle, spread


def _steps(rows: Samples, width: int) -> Samples:
    """Return the differences of each row's moving means, shape (rows, samples - width)."""
    w = max(width, 1)
    level = rows.mean(axis=1, keepdims=True)
    total = np.cumsum(rows - level, axis=1)
    total = np.concatenate((np.zeros((rows.shape[0], 1)), total), axis=1)
    return np.asarray(np.diff((total[:, w:] - total[:, :-w]) / w, axis=1))


def _alike(a: Samples, d: Samples) -> Samples:
    """Return the correlation of each pair of rows, shape (rows,)."""
    a = a - a.mean(axis=1, keepdims=True)
    d = d - d.mean(axis=1, keepdims=True)
    size = np.sqrt((a * a).sum(axis=1) * (d * d).sum(axis=1))
    return np.asarray((a * d).sum(axis=1) / np.maximum(size, 1e-12))


def delayed(pd_mmhg: Samples, delay_s: float, rate_hz: float) -> Samples:
    """Return Pd as late as Pa is, shape (n,); lost where nothing is known."""
    shift = delay_s * rate_hz
    if abs(shift) < 0.01:
        return pd_mmhg
    at = np.arange(pd_mmhg.size) - shift
    low = np.floor(at).astype(np.int64)
    part = float(at[0] - low[0])
    n = pd_mmhg.size
    inside = (low >= 0) & (low < n - 1)
    k = np.clip(low, 0, n - 2)
    row = (1.0 - part) * pd_mmhg[k] + part * pd_mmhg[k + 1]
    return np.where(inside, row, np.nan)
