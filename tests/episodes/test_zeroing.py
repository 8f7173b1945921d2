"""What Pa read open to air, and what height does."""

import numpy as np
import pytest

from arteriole.episodes.zeroing import pa_zero_mmhg
from arteriole.signal import Grid


def grid_with(zero_mmhg: float, lost: bool = False) -> Grid:
    t = np.arange(0.0, 20.0, 0.005)
    pa = 90.0 + 20.0 * np.sin(2.0 * np.pi * t)
    pa[(t >= 4.0) & (t < 12.0)] = np.nan if lost else zero_mmhg
    return Grid(rate_hz=200.0, start_s=0.0, pa_mmhg=pa, pd_mmhg=pa.copy())


@pytest.mark.parametrize("zero", [0.0, 3.0, -4.5])
def test_the_zero_is_what_pa_read_open_to_air(zero: float) -> None:
    assert pa_zero_mmhg(grid_with(zero), [(4.0, 12.0)]) == pytest.approx(zero)


def test_a_zero_set_within_the_stretch_counts_as_set() -> None:
    grid = grid_with(6.0)
    pa = grid.pa_mmhg.copy()
    pa[1400:2400] = 0.2  # set at 7 s
    set_late = Grid(rate_hz=200.0, start_s=0.0, pa_mmhg=pa, pd_mmhg=pa)
    assert pa_zero_mmhg(set_late, [(4.0, 12.0)]) == pytest.approx(0.2)


def test_without_samples_open_to_air_the_zero_is_unknown() -> None:
    assert pa_zero_mmhg(grid_with(0.0), []) is None
    assert pa_zero_mmhg(grid_with(0.0, lost=True), [(4.0, 12.0)]) is None
    assert pa_zero_mmhg(grid_with(0.0), [(4.0, 4.6)]) is None
