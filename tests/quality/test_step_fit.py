"""A step of Pd/Pa told from breathing, wandering and a drug that comes."""

from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from arteriole.quality.step_fit import fitted_steps
from arteriole.signal import Beats

ALL, AT = 80, 40


def breathing(
    change: np.ndarray, *, seed: int = 0, noise: float = 0.001
) -> list[tuple[int, float]]:
    """Steps found in 80 beats of 0.8 s that breathe; ``change`` is added to Pd/Pa of 0.85."""
    rng = np.random.default_rng(seed)
    made: dict[str, Any] = {f.name: np.zeros(ALL) for f in fields(Beats)}
    breath = np.sin(2.0 * np.pi * np.arange(ALL) * 0.8 / 4.1)
    start = 0.8 * np.arange(ALL)
    made |= {"start_s": start, "end_s": start + 0.8, "pa_mean_mmhg": 90.0 * (1.0 + 0.05 * breath)}
    made |= {"rate_hz": 250.0, "delay_s": 0.0, "delay_sd_s": 0.0}
    ratio = 0.85 + 0.004 * breath + change + rng.normal(0.0, noise, ALL)
    return fitted_steps(Beats(**made), np.arange(ALL), ratio)


@pytest.mark.parametrize("size", [-0.03, 0.009, 0.012, 0.05])
@pytest.mark.parametrize("seed", range(3))
def test_a_step_under_breathing_is_found_where_and_as_large_as_it_is(
    size: float, seed: int
) -> None:
    ((at, told),) = breathing(size * (np.arange(ALL) >= AT), seed=seed)
    assert abs(at - AT) <= 1
    assert told == pytest.approx(size, abs=0.003)


@pytest.mark.parametrize("seed", range(5))
def test_breathing_alone_is_no_step(seed: int) -> None:
    assert breathing(np.zeros(ALL), seed=seed, noise=0.0015) == []


@pytest.mark.parametrize("over_beats", [12, 25])
def test_a_drug_that_comes_is_no_step(over_beats: int) -> None:
    ramp = np.clip((np.arange(ALL) - AT) / over_beats, 0.0, 1.0)
    assert breathing(-0.05 * ramp) == []


def test_what_goes_back_within_half_a_minute_is_no_slip() -> None:
    away = (np.arange(ALL) >= 30) & (np.arange(ALL) < 52)
    assert breathing(0.02 * away) == []


def test_a_row_too_short_for_both_sides_has_no_step() -> None:
    made: dict[str, Any] = {f.name: np.zeros(8) for f in fields(Beats)}
    made |= {"start_s": np.arange(8.0), "end_s": np.arange(8.0) + 1.0, "rate_hz": 250.0}
    made |= {"delay_s": 0.0, "delay_sd_s": 0.0, "pa_mean_mmhg": np.full(8, 90.0)}
    assert fitted_steps(Beats(**made), np.arange(8), np.repeat([0.8, 0.9], 4)) == []
