"""Robust spread against a general reference library."""

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from arteriole.signal.smooth import robust_sd


def test_robust_sd_is_the_scaled_median_absolute_deviation_row_by_row():
    # scipy.stats.median_abs_deviation with scale="normal"
    rows = np.random.default_rng(0).standard_normal((5, 40))
    want = median_abs_deviation(rows, axis=1, scale="normal")
    assert robust_sd(rows) == pytest.approx(want, rel=1e-4)
    assert float(robust_sd(rows[0])) == pytest.approx(want[0], rel=1e-4)
