"""Blood's temperature under an infusion."""

import numpy as np
import pytest

from arteriole.thermo.blood import find_blood
from arteriole.thermo.plateau import STEP_S

T = np.arange(0.0, 200.0, STEP_S)
ON, GONE = 80.0, 120.0


def seen(level, *, tail: float = 0.0, noise: float = 0.002):
    rng = np.random.default_rng(3)
    row = np.broadcast_to(level, T.shape) + rng.normal(0.0, noise, T.size)
    row = np.where((ON <= T) & (GONE >= T), row - 0.6, row)
    return np.where(GONE < T, row - tail * np.exp(-(T - GONE) / 2.5), row)


def blood(row):
    found = find_blood(T, row, onset_s=ON, gone_s=GONE, at_s=(95.0, 110.0))
    assert found is not None
    return found


def test_level_blood_is_found_to_a_thousandth() -> None:
    found = blood(seen(37.0))
    assert found.mean_c == pytest.approx(37.0, abs=0.002)
    assert not found.moved


def test_a_drift_is_joined_from_both_sides() -> None:
    # A straight drift of 0.06 °C over the recording: at 102.5 s it stands at 0.0308.
    found = blood(seen(37.0 + 0.06 * T / 200.0))
    assert found.mean_c == pytest.approx(37.0 + 0.06 * 102.5 / 200.0, abs=0.004)


def test_the_recovery_from_cold_is_taken_off() -> None:
    assert blood(seen(37.0, tail=1.5)).mean_c == pytest.approx(37.0, abs=0.006)


def test_a_moved_baseline_is_said_with_its_size() -> None:
    found = blood(seen(np.where(T > 100.0, 37.3, 37.0)))
    assert found.moved
    assert found.moved_c == pytest.approx(0.3, abs=0.01)


def test_a_shift_long_after_the_infusion_is_left_out() -> None:
    found = blood(seen(np.where(T > 150.0, 37.4, 37.0)))
    assert not found.moved
    assert found.mean_c == pytest.approx(37.0, abs=0.005)


def test_the_doubt_covers_a_wandering_blood() -> None:
    # First-order wander, SD 0.02 °C, memory 25 s: the estimate's z has an SD near one.
    rng = np.random.default_rng(11)
    keep = np.exp(-STEP_S / 25.0)
    z = []
    for _ in range(80):
        steps = rng.normal(0.0, 0.02 * np.sqrt(1.0 - keep**2), T.size)
        wander = np.empty(T.size)
        now = rng.normal(0.0, 0.02)
        for k, step in enumerate(steps):
            now = keep * now + step
            wander[k] = now
        found = blood(seen(wander))
        inside = (T >= 95.0) & (T < 110.0)
        z.append((found.mean_c - wander[inside].mean()) / found.sd_c)
    assert 0.6 < float(np.std(z)) < 1.3


def test_no_blood_on_either_side_is_none() -> None:
    short = slice(int(79.5 / STEP_S), int(121.0 / STEP_S))
    assert find_blood(T[short], seen(37.0)[short], onset_s=ON, gone_s=GONE, at_s=(95, 110)) is None
