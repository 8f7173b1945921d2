"""Zeroing: what Pa read while its transducer was open to air."""

from collections.abc import Sequence

import numpy as np

from arteriole.signal import Grid

LATE_SHARE = 1.0 / 3.0  # the valve and the setting itself lie in the earlier part
EDGE_S = 0.5  # the valve is turned back within this; our choice, decision 0042
LEAST_S = 1.0


def pa_zero_mmhg(grid: Grid, open_s: Sequence[tuple[float, float]]) -> float | None:
    """Return what Pa read at the end of its last stretch open to air, mmHg, or None.

    A zeroed transducer reads 0 there. ``open_s``: stretches open to air, s. Look-ahead: the end of
    the stretch. None when no stretch leaves ``LEAST_S`` of samples.
    """
    for start, end in sorted(open_s, reverse=True):
        stop = end - EDGE_S
        first = max(stop - LATE_SHARE * (end - start), start)
        t0 = round((first - grid.start_s) * grid.rate_hz)
        t1 = round((stop - grid.start_s) * grid.rate_hz)
        part = grid.pa_mmhg[max(t0, 0) : max(t1, 0)]
        part = part[np.isfinite(part)]
        if part.size >= LEAST_S * grid.rate_hz:
            return float(np.median(part))
    return None
