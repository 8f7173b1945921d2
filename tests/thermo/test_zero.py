"""Time zero from what there is, and how well it is known."""

import numpy as np
import pytest

from arteriole.thermo.pressure_mark import PressureMark
from arteriole.thermo.push import Push
from arteriole.thermo.zero import SEEN_SD_S, arrival, push_near, time_zero
from thermo.chains import bolus
from thermo.test_push import RATE_HZ, T, distal_pressure

DROP, FLOW, _ = bolus(T, transit_s=0.6)
PEAK = int(np.argmax(DROP))
ZERO = float((T * FLOW).sum() / FLOW.sum())
LOST = PressureMark(
    kind="lost", start_s=9.9, end_s=10.9, zero_s=10.35, zero_sd_s=0.17, lost_s=1.6
)  # fmt: skip
SPIKE = PressureMark(kind="spike", start_s=10.03, end_s=10.63, zero_s=10.33, zero_sd_s=0.02)


def a_push(sd_s: float) -> Push:
    return Push(
        middle_s=10.31, middle_sd_s=sd_s, duration_s=0.55, log_duration_sd=0.1, rise_mmhg=5.0,
        seen=1.0,
    )  # fmt: skip


def zero_of(mark: PressureMark | None, push: Push | None):
    return time_zero(None, mark, push, None, T, DROP, PEAK)


def near(pd: np.ndarray, mark: PressureMark | None = None) -> Push | None:
    return push_near(pd, RATE_HZ, start_s=0.0, mark=mark, t=T, smooth=DROP, peak_at=PEAK)


def test_the_arrival_is_the_last_level_below_a_twentieth_of_the_peak() -> None:
    at = arrival(T, DROP, PEAK)
    assert DROP[np.searchsorted(T, at)] < 0.05 * DROP[PEAK]
    assert 10.0 < at < T[PEAK]


@pytest.mark.parametrize("mark", [None, LOST, SPIKE])
def test_a_push_is_found_near_where_curve_and_aortic_pressure_expect_it(
    mark: PressureMark | None,
) -> None:
    for seed in range(4):
        pd = distal_pressure(np.random.default_rng(seed)) + 6.0 * FLOW / FLOW.max()
        push = near(pd, mark)
        assert push is not None
        assert push.middle_s == pytest.approx(ZERO, abs=0.04)
        assert push.middle_sd_s < SEEN_SD_S


def test_a_push_seen_well_is_held_and_one_seen_badly_is_left_to_the_curve() -> None:
    held, free = zero_of(LOST, a_push(0.02)), zero_of(LOST, a_push(0.10))
    assert not held.injection.free
    assert held.sd_s == 0.02
    assert free.injection.free
    assert free.injection.zero_sd_s == 0.10
    assert held.injection.middle_s == free.injection.middle_s == pytest.approx(10.31)


def test_without_any_mark_a_badly_seen_push_is_called_arrival() -> None:
    assert zero_of(None, a_push(0.02)).source == "pressure"
    assert zero_of(None, a_push(0.20)).source == "arrival"
    assert zero_of(LOST, a_push(0.20)).source == "pressure"


def test_a_spike_keeps_its_length_and_is_moved_by_the_push() -> None:
    zero = zero_of(SPIKE, a_push(0.015))
    assert zero.injection.duration_s == pytest.approx(0.6)
    assert zero.injection.middle_s == pytest.approx(10.31)
    assert zero_of(SPIKE, None).injection.middle_s == pytest.approx(10.33)


def test_a_push_after_the_peak_of_the_curve_is_none() -> None:
    late = Push(
        middle_s=12.5, middle_sd_s=0.02, duration_s=2.4, log_duration_sd=0.1, rise_mmhg=5.0, seen=1
    )  # fmt: skip
    assert zero_of(LOST, late).injection.middle_s == pytest.approx(LOST.zero_s, abs=0.06)
    assert zero_of(None, late).source == "arrival"


def test_a_mark_of_a_person_stands_above_all() -> None:
    zero = time_zero(None, SPIKE, a_push(0.02), 10.2, T, DROP, PEAK)
    assert (zero.source, zero.sd_s) == ("marked", 0.0)
    assert zero.injection.middle_s == pytest.approx(10.2)
