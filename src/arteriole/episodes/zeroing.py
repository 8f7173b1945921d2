"""Zeroing: what Pa read while its transducer was open to air, and what height does to it."""

from collections.abc import Sequence

import numpy as np

from arteriole.signal import Grid

LATE_SHARE = 1.0 / 3.0  # the valve and the setting itself lie in the earlier part
EDGE_S = 0.5  # the valve is turned back within this; our choice, decision 0042
LEAST_S = 1.0
MMHG_PER_CM = 0.77  # 1050 kg/m3 x 9.81 m/s2 x 0.01 m; from the density of blood


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


def hydrostatic_mmhg(height_cm: float) -> float:
    """Return by how much a sensor ``height_cm`` above the transducer's level reads low, mmHg.

    A sensitivity to show beside a result, never a correction: the true height is seldom known.
    """
    return MMHG_PER_CM * height_cm
