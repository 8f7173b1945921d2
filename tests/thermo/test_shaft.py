"""Time zero from the shaft: fill, lag and re-warming taken apart."""

import numpy as np
import pytest

from arteriole.thermo.bins import bin_means
from arteriole.thermo.shaft import STEP_S, read_shaft
from thermo.chains import flow, shaft_drop, times

T = times(20.0)


def binned(drop: np.ndarray) -> np.ndarray:
    return bin_means(drop, 200.0, start_s=0.0, from_s=0.0, step_s=STEP_S, bins=900)


@pytest.mark.parametrize("lag_s", [0.08, 0.15, 0.22])
@pytest.mark.parametrize("rewarm_s", [1.0, 2.5])
@pytest.mark.parametrize("fill", [5.0, 12.0])
def test_mean_passage_is_found_whatever_fill_lag_and_rewarming(
    lag_s: float, rewarm_s: float, fill: float
) -> None:
    injection = flow(T, 6.0, 6.6)
    noise = np.random.default_rng(1).normal(0.0, 0.03, T.size)
    drop = shaft_drop(T, injection, lag_s=lag_s, rewarm_s=rewarm_s, fill=fill) + noise
    reading = read_shaft(binned(drop), 0.0, 0.015)
    assert reading is not None
    assert reading.zero_s == pytest.approx(6.3, abs=0.04)
    assert abs(reading.zero_s - 6.3) < 2.6 * reading.zero_sd_s
    assert reading.rewarm_s == pytest.approx(rewarm_s, rel=0.1)
    assert reading.lag_s == pytest.approx(lag_s, rel=0.35)


def test_length_of_a_slow_injection_is_read() -> None:
    reading = read_shaft(binned(shaft_drop(T, flow(T, 6.0, 8.2))), 0.0, 0.01)
    assert reading is not None
    assert reading.end_s - reading.start_s == pytest.approx(2.2, abs=0.15)


def test_two_pushes_are_seen_as_two() -> None:
    both = 0.5 * flow(T, 6.0, 6.6) + 0.5 * flow(T, 7.2, 7.8)
    reading = read_shaft(binned(shaft_drop(T, both)), 0.0, 0.01)
    assert reading is not None
    assert len(reading.pulses) == 2
    assert reading.zero_s == pytest.approx(6.9, abs=0.08)


def test_a_shaft_without_injection_gives_nothing() -> None:
    noise = np.random.default_rng(2).normal(0.0, 0.03, T.size)
    assert read_shaft(binned(noise), 0.0, 0.015) is None
    assert read_shaft(np.full(900, np.nan), 0.0, 0.015) is None
