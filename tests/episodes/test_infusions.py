"""Infusions found from the distal temperature alone."""

import numpy as np
import pytest

from arteriole.episodes.infusions import FoundInfusion, find_infusions, phases_of
from arteriole.episodes.trend import Trend
from arteriole.signal import Grid

RATE_HZ = 100.0
T = np.arange(0.0, 300.0, 1.0 / RATE_HZ)


def settling(goals: list[tuple[float, float, float]]) -> np.ndarray:
    """Return a trace from (start, goal, time constant) in order."""
    out, now, k = np.empty_like(T), 0.0, 0
    for i, at in enumerate(T):
        while k + 1 < len(goals) and at >= goals[k + 1][0]:
            k += 1
        _, goal, tau = goals[k]
        now += (goal - now) / (tau * RATE_HZ)
        out[i] = now
    return out


def infusion(start: float, mixed: float, outlet: float) -> list[tuple[float, float, float]]:
    return [(start, mixed, 3.0), (start + 45.0, outlet, 0.5), (start + 57.0, 0.0, 1.5)]


def grid(goals: list[tuple[float, float, float]], *, noise: float = 0.012) -> Grid:
    rng = np.random.default_rng(5)
    temp = 36.7 + settling([(0.0, 0.0, 1.0), *goals]) + rng.normal(0.0, noise, T.size)
    flat = np.full(T.size, 90.0)
    return Grid(rate_hz=RATE_HZ, start_s=0.0, pa_mmhg=flat, pd_mmhg=flat, temp_c=temp)


def flat_trend(fall: float = 0.0) -> Trend:
    at = np.arange(0.0, 300.0, 0.8)
    level = np.where(at > 95.0, 0.95 - fall, 0.95)
    same = np.full(at.size, 90.0)
    return Trend(time_s=at, ratio=level, level=level, pa_mmhg=same, pd_mmhg=same,
                 shape_mmhg=np.zeros(at.size), rate_bpm=same)  # fmt: skip


@pytest.mark.parametrize("mixed", [-0.2, -0.6, -1.5])
def test_a_mixture_of_some_tenths_is_found(mixed: float) -> None:
    # 0.2 °C is what 10 mL/min of saline do to 220 mL/min: 1.08 * 10 * 4.2 / 220.
    (one,) = find_infusions(grid(infusion(80.0, mixed, -4.2)), 5.0)
    assert one.start_s == pytest.approx(80.0, abs=1.5)
    assert one.end_s == pytest.approx(137.0, abs=2.0)
    assert one.outlet_c == pytest.approx(4.2, abs=0.1)


def test_two_infusions_are_two_and_the_colder_outlet_is_the_faster_pump() -> None:
    first, second = infusion(60.0, -0.6, -4.2), infusion(135.0, -0.5, -5.6)
    found = find_infusions(grid([*first, *second]), 5.0)
    assert len(found) == 2
    assert phases_of(found, flat_trend()) == ("rest", "hyperaemia")
    swapped = find_infusions(grid([*infusion(60.0, -0.5, -5.6), *infusion(135.0, -0.6, -4.2)]), 5.0)
    assert phases_of(swapped, flat_trend()) == ("hyperaemia", "rest")


def test_like_outlets_leave_the_order_to_decide() -> None:
    found = (
        FoundInfusion(start_s=60.0, end_s=110.0, outlet_c=5.0),
        FoundInfusion(start_s=140.0, end_s=190.0, outlet_c=5.1),
    )
    assert phases_of(found, flat_trend()) == ("rest", "hyperaemia")


@pytest.mark.parametrize(("fall", "phase"), [(0.0, "rest"), (0.06, "hyperaemia")])
def test_a_lone_infusion_that_lowers_the_ratio_opened_the_vessel(fall: float, phase: str) -> None:
    one = FoundInfusion(start_s=90.0, end_s=150.0, outlet_c=5.0)
    assert phases_of((one,), flat_trend(fall)) == (phase,)


def test_boluses_and_a_long_flush_are_no_infusions() -> None:
    bolus = [(100.0, -3.0, 0.4), (101.2, 0.0, 0.8), (120.0, -4.0, 0.4), (123.0, 0.0, 1.2)]
    assert find_infusions(grid(bolus), 5.0) == ()


def test_a_shifted_baseline_is_no_infusion() -> None:
    assert find_infusions(grid([(120.0, -0.6, 1.0)]), 5.0) == ()


def test_a_recording_without_temperature_has_none() -> None:
    flat = np.full(T.size, 90.0)
    bare = Grid(rate_hz=RATE_HZ, start_s=0.0, pa_mmhg=flat, pd_mmhg=flat)
    assert find_infusions(bare, 0.0) == ()
