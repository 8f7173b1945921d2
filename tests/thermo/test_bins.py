"""Exact averaging onto a coarse grid."""

import numpy as np
import pytest

from arteriole.thermo.bins import bin_means, local_noise


@pytest.mark.parametrize("rate_hz", [60.0, 100.0, 125.0, 200.0, 333.0, 1000.0])
def test_a_straight_line_keeps_its_place_at_any_rate(rate_hz: float) -> None:
    values = 0.5 + 2.0 * np.arange(int(20 * rate_hz)) / rate_hz
    got = bin_means(values, rate_hz, start_s=0.0, from_s=3.0, step_s=0.04, bins=100)
    middle = 3.0 + (np.arange(100) + 0.5) * 0.04
    assert np.abs(got - (0.5 + 2.0 * middle)).max() < 2.0 * 0.5 / rate_hz / 2.0


def test_a_lost_stretch_stays_lost() -> None:
    values = np.ones(1000)
    values[300:340] = np.nan
    got = bin_means(values, 100.0, start_s=0.0, from_s=0.0, step_s=0.1, bins=90)
    assert np.isnan(got[31:33]).all()
    assert np.isfinite(got[:29]).all()


def test_noise_of_a_drifting_signal_is_that_of_its_samples() -> None:
    noise = np.random.default_rng(3).normal(0.0, 0.02, 4000)
    assert local_noise(noise + 0.001 * np.arange(4000)) == pytest.approx(0.02, rel=0.08)
