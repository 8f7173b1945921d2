"""Continuous thermodilution."""

import numpy as np
import pytest

from arteriole.thermo import read_continuous
from arteriole.thermo.continuous import HEAT_RATIO

RATE_HZ = 100.0


def trace(t_c: float, ti_c: float, *, noise: float = 0.01, drift: float = 0.0, blood: float = 37.0):
    t = np.arange(0.0, 110.0, 1.0 / RATE_HZ)
    level = np.where((t >= 30) & (t < 70), t_c, np.where((t >= 70) & (t < 80), ti_c, 0.0))
    out, now = np.empty_like(t), 0.0
    for k, goal in enumerate(level):
        tau = 3.0 if t[k] < 70 else 0.4
        now += (goal - now) / (tau * RATE_HZ)
        out[k] = now
    rng = np.random.default_rng(4)
    return blood + out + drift * t + rng.normal(0.0, noise, t.size)


def read(temp, rate: float | None = 20.0):
    return read_continuous(
        temp_c=temp,
        rate_hz=RATE_HZ,
        start_s=0.0,
        infusion_start_s=30.0,
        infusion_end_s=80.0,
        infusion_ml_min=rate,
    )


@pytest.mark.parametrize(
    ("qi", "ti", "t", "q"), [(20.0, -5.0, -0.50, 216.0), (10.0, -6.0, -0.90, 72.0)]
)
def test_flow_is_108_ti_over_t_qi(qi: float, ti: float, t: float, q: float) -> None:
    # Q = 1.08 (Ti / T) Qi [Aarnoudse2007]: 216 and 72 mL/min, exact arithmetic of the formula.
    assert HEAT_RATIO * ti / t * qi == pytest.approx(q)
    for blood in (37.0, 0.0):
        reading = read(trace(t, ti, blood=blood), qi)
        assert reading.faults == ()
        assert reading.q_ml_min == pytest.approx(q, rel=0.02)
        assert reading.steady
        sd = np.sqrt(sum(v * v for v in reading.sd_ml_min.values()))
        assert abs(reading.q_ml_min - q) < 1.96 * sd


def test_a_drift_of_blood_is_followed() -> None:
    assert read(trace(-0.6, -5.0, drift=-0.001)).q_ml_min == pytest.approx(180.0, rel=0.05)


def test_windows_lie_in_their_plateaus() -> None:
    reading = read(trace(-0.6, -5.0))
    assert reading.mixed is not None
    assert reading.infusate is not None
    assert reading.blood is not None
    assert reading.blood.seen_s[0][1] < 30.5
    assert reading.blood.seen_s[1][0] > 80.0
    assert 35.0 < reading.mixed.start_s < reading.mixed.end_s < 70.0
    assert 70.5 < reading.infusate.start_s < reading.infusate.end_s < 80.5


@pytest.mark.parametrize(
    ("t", "ti", "fault", "given"),
    [
        (-0.06, -4.0, "t_small", False),
        (-0.6, -1.5, "ti_small", True),
        (-3.0, -3.3, "ratio_small", False),
    ],
)
def test_implausible_temperatures_are_named(t: float, ti: float, fault: str, given: bool) -> None:
    # |T| < 0.1, |Ti| < 2, Ti/T < 1.2: our choice from memory of the method, decision 0054.
    reading = read(trace(t, ti, noise=0.003))
    assert fault in reading.faults
    assert (reading.q_ml_min is not None) == given


@pytest.mark.parametrize(("t", "ti"), [(-0.15, -4.0), (-0.6, -2.5), (-3.0, -4.2)])
def test_plausible_temperatures_are_not_named(t: float, ti: float) -> None:
    faults = set(read(trace(t, ti, noise=0.003)).faults)
    assert not faults & {"t_small", "ti_small", "ratio_small", "ti_warm"}


def test_ti_warmer_than_t_gives_no_flow() -> None:
    reading = read_continuous(
        temp_c=trace(-0.6, -0.5, noise=0.003), rate_hz=RATE_HZ, start_s=0.0,
        infusion_start_s=30.0, infusion_end_s=80.0, infusion_ml_min=20.0,
    )  # fmt: skip
    assert reading.q_ml_min is None


def test_a_baseline_that_moves_gives_both_flows_and_none() -> None:
    temp = trace(-0.5, -5.0)
    t = np.arange(temp.size) / RATE_HZ
    reading = read(temp + 0.3 * (t > 50.0))
    assert "blood_moved" in reading.faults
    assert reading.q_ml_min is None
    assert reading.between_ml_min is not None
    assert reading.between_ml_min[0] < 216.0 < reading.between_ml_min[1] + 350.0


def test_the_latest_steady_window_is_read() -> None:
    # T creeps as hyperaemia builds: what counts is its end, before the sensor is drawn back.
    reading = read(trace(-0.6, -5.0))
    assert reading.mixed is not None
    assert 66.0 < reading.mixed.end_s < 69.5


def test_uncertainties_add_as_in_first_order() -> None:
    # Q = 1.08 Ti / T Qi is a product: relative variances add [JCGM100], E.3.
    reading = read(trace(-0.6, -5.0))
    assert reading.q_ml_min is not None
    assert reading.mixed is not None
    share = reading.mixed.mean_sd_c / -reading.t_c
    assert reading.sd_ml_min["mixed temperature"] == pytest.approx(reading.q_ml_min * share)


def test_a_slow_pump_and_a_missing_rate_are_named() -> None:
    assert "slow_infusion" in read(trace(-0.6, -5.0), 6.0).faults
    reading = read(trace(-0.6, -5.0), None)
    assert reading.q_ml_min is None
    assert "no_rate" in reading.faults


def test_a_clipped_infusate_gives_no_flow() -> None:
    reading = read(np.maximum(trace(-0.6, -5.0), 34.0))
    assert reading.faults[0] == "clipped"
    assert reading.q_ml_min is None


def test_a_swinging_trace_is_unsteady() -> None:
    temp = trace(-0.6, -5.0)
    t = np.arange(temp.size) / RATE_HZ
    inside = (t > 32) & (t < 70)
    reading = read(temp + np.where(inside, 0.25 * np.sin(2 * np.pi * t / 7.0), 0.0))
    assert "unsteady" in reading.faults


def test_no_infusion_gives_no_flow() -> None:
    flat = 37.0 + np.random.default_rng(0).normal(0.0, 0.01, 11000)
    reading = read(flat)
    assert reading.q_ml_min is None or reading.faults != ()
    assert read(np.full(11000, np.nan)).faults == ("no_plateau",)
