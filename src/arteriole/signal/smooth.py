"""Moving means, slopes and ranges of long rows, in numpy alone (fast to load, fast to run)."""

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples

Flags = npt.NDArray[np.bool_]
NORMAL = 1.4826  # standard deviation of a normal row over its median absolute deviation


def moving_mean(x: Samples, width: int) -> Samples:
    """Return the centred mean over ``width`` samples; shorter at the ends; NaN spoils its reach.

    ``x`` shape (n,); ``width`` below 2 returns ``x``. An even width leans one sample back.
    """
    if width < 2 or x.size == 0:
        return x
    lost = np.isnan(x)
    some = bool(lost.any())
    level = float(np.nanmean(x)) if not lost.all() else 0.0
    total = running_sum(np.where(lost, level, x) - level if some else x - level)
    a, b = _reach(x.size, width)
    row: Samples = (total[b] - total[a]) / (b - a) + level
    if some:
        gaps = np.concatenate(([0], np.cumsum(lost)))
        row[gaps[b] > gaps[a]] = np.nan
    return row


def robust_sd(rows: Samples) -> Samples:
    """Return the robust standard deviation along the last axis, shape of ``rows`` without it."""
    middle = np.median(rows, axis=-1, keepdims=True)
    return np.asarray(NORMAL * np.median(np.abs(rows - middle), axis=-1))


def running_sum(x: Samples) -> Samples:
    """Return the sums of the first k values, shape (n + 1,), NaN counted as 0."""
    total = np.empty(x.size + 1)
    total[0] = 0.0
    np.cumsum(np.nan_to_num(x, copy=True, nan=0.0) if np.isnan(x).any() else x, out=total[1:])
    return total


def _reach(n: int, width: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    k = np.arange(n)
    a = np.maximum(k - width // 2, 0)
    return a, np.minimum(k - width // 2 + width, n)


def slope(x: Samples, width: int) -> Samples:
    """Return mean of the ``width`` samples from k on less mean of those before, shape (n,).

    A slope seen through a box of ``2 * width`` samples: blind to noise, offset and slow drift.
    NaN where the box meets a lost sample or an end.
    """
    n, w = x.size, max(width, 1)
    row = np.full(n, np.nan)
    if n < 2 * w + 1:
        return row
    lost = np.isnan(x)
    total = running_sum(x)
    mid = total[w : n - w + 1]
    row[w : n - w + 1] = (total[2 * w :] - 2.0 * mid + total[: n - 2 * w + 1]) / w
    if lost.any():
        gaps = np.concatenate(([0], np.cumsum(lost)))
        bad = np.zeros(n, dtype=np.bool_)
        bad[w : n - w + 1] = gaps[2 * w :] > gaps[: n - 2 * w + 1]
        row[bad] = np.nan
    return row


def blocks(x: Samples, width: int) -> Samples:
    """Return means of consecutive blocks of ``width`` samples, shape (n // width,)."""
    if width < 2:
        return x
    n = x.size // width
    row: Samples = x[: n * width].reshape(n, width).mean(axis=1)
    return row


def rolling_median(x: Samples, width: int) -> Samples:
    """Return the centred median over ``width`` (odd) values, NaN left out; NaN where none."""
    if not x.size:
        return x
    half = width // 2
    padded = np.concatenate((np.full(half, np.nan), x, np.full(half, np.nan)))
    view = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    row = np.full(x.size, np.nan)
    known = ~np.isnan(view).all(axis=1)
    ordered = np.sort(view[known], axis=1)  # NaN last
    count = np.sum(~np.isnan(ordered), axis=1)
    rows = np.arange(ordered.shape[0])
    row[known] = 0.5 * (ordered[rows, (count - 1) // 2] + ordered[rows, count // 2])
    return row


def runs(flags: Flags) -> npt.NDArray[np.int64]:
    """Return starts and ends (half open) of the runs of True, shape (runs, 2)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return edges.reshape(-1, 2).astype(np.int64)
