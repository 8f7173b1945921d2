"""Fewer points, the same picture: exact least and greatest value of every bin."""

import numpy as np

from arteriole.recording.channel import Samples

#: A trace has no more points than this; two for each of 2000 bins. Above, pages and PDF files
#: grow without a visible gain; our choice, decision 0080.
MOST_POINTS = 4000


def extremes(times_s: Samples, values: Samples, most: int = MOST_POINTS) -> tuple[Samples, Samples]:
    """Return times and values, shape (m,) with m <= ``most``, that keep every peak exactly.

    Within a bin the least and the greatest sample stand in their own order at their own times; a
    bin with no sample left is NaN, so a gap stays a gap.
    """
    n = values.size
    if n <= most:
        return times_s, values
    width = -(-n // (most // 2))
    bins = -(-n // width)
    padded = np.full(bins * width, np.nan)
    padded[:n] = values
    rows = padded.reshape(bins, width)
    lost = np.isnan(rows)
    low = np.where(lost, np.inf, rows).argmin(axis=1)
    high = np.where(lost, -np.inf, rows).argmax(axis=1)
    first, second = np.minimum(low, high), np.maximum(low, high)
    at = (np.arange(bins)[:, None] * width + np.stack([first, second], axis=1)).ravel()
    return times_s[np.minimum(at, n - 1)], padded[at]
