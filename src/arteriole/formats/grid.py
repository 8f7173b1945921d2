"""Channels side by side on one grid, for formats that hold only one rate."""

import numpy as np
import numpy.typing as npt

from arteriole.errors import FormatLimit
from arteriole.recording import Recording


def one_grid(recording: Recording, lossy: bool) -> tuple[float, npt.NDArray[np.float64]]:
    """Return (rate Hz, values of shape (n, channels)); lost samples are NaN.

    Raises
    ------
    FormatLimit
        No channel, or different rates and the loss is not allowed.
    """
    if not recording.channels:
        raise FormatLimit("The recording has no channel; nothing can be written.")
    rate = max(c.rate_hz for c in recording.channels)
    if not lossy and any(
        c.rate_hz != rate or abs(c.start_s * rate - round(c.start_s * rate)) > 1e-3
        for c in recording.channels
    ):
        raise FormatLimit(
            "The channels have different rates or grids; this format holds one. Write HDF5, or "
            "allow the loss with --lossy."
        )
    size = max(round((c.start_s + c.duration_s) * rate) for c in recording.channels)
    out = np.full((size, len(recording.channels)), np.nan)
    for k, c in enumerate(recording.channels):
        where = np.rint((np.arange(size) / rate - c.start_s) * c.rate_hz).astype(np.int64)
        inside = (where >= 0) & (where < c.values.size)
        out[inside, k] = c.values[where[inside]]
    return rate, out
