"""The mean of the mixed temperature over the flow of a beat."""

import numpy as np
import pytest

from arteriole.thermo.pulse import LEFT_RATIO, Pulse, flow_weighted

RATE_HZ = 200.0
BEAT_S = 0.8
T = np.arange(0.0, 30.0, 1.0 / RATE_HZ)
FEET = np.arange(0.0, 29.0, BEAT_S)


def pulse(ratio: float = 1.85, lag_s: float = 0.0) -> Pulse:
    return Pulse(start_s=FEET, notch_s=FEET + 0.3, end_s=FEET + BEAT_S, ratio=ratio, lag_s=lag_s)


def shift(temp, p: Pulse) -> float:
    got = flow_weighted(temp, RATE_HZ, start_s=0.0, window_s=(8.0, 24.0), pulse=p)
    assert got is not None
    return got.shift_c


def ripple(colder_in_systole_c: float):
    return -0.5 - colder_in_systole_c * (np.mod(T, BEAT_S) < 0.3)


def test_an_even_temperature_needs_no_step() -> None:
    assert shift(np.full(T.size, -0.5), pulse()) == pytest.approx(0.0, abs=1e-12)


def test_an_even_flow_needs_no_step() -> None:
    assert shift(ripple(0.1), pulse(ratio=1.0)) == pytest.approx(0.0, abs=1e-12)


def test_the_step_is_the_covariance_of_temperature_and_flow() -> None:
    # Two levels: T is 0.1 colder for 0.3 of 0.8 s, flow is 1/1.85 then and 1 else.
    # Time mean -0.5 - 0.1 * 0.375; flow mean -0.5 - 0.1 * (0.3 / 1.85) / (0.3 / 1.85 + 0.5).
    carried = (0.3 / 1.85) / (0.3 / 1.85 + 0.5)
    assert shift(ripple(0.1), pulse()) == pytest.approx(0.1 * (0.375 - carried), rel=0.08)


def test_a_constant_inflow_into_pulsing_flow_is_read_as_the_flow_mean() -> None:
    # Heat h enters a vessel without volume: T = -h / q. Its flow mean is -h / mean(q) exactly.
    q = np.where(np.mod(T, BEAT_S) < 0.3, 1.0 / 1.85, 1.0)
    temp = -0.5 / q
    right = -0.5 / q[(T >= 8.0) & (T < 24.0)].mean()
    window = (T >= 8.0) & (T < 24.0)
    read = temp[window].mean() + shift(temp, pulse())
    assert read == pytest.approx(right, rel=0.01)
    assert abs(temp[window].mean() / right - 1.0) > 0.05


def test_the_sensors_lag_is_undone() -> None:
    sharp = ripple(0.1)
    late, now = np.empty_like(sharp), sharp[0]
    for k, goal in enumerate(sharp):
        now += (goal - now) / (0.15 * RATE_HZ)
        late[k] = now
    assert shift(late, pulse(lag_s=0.15)) == pytest.approx(shift(sharp, pulse()), rel=0.15)


def test_too_few_beats_say_nothing() -> None:
    got = flow_weighted(ripple(0.1), RATE_HZ, start_s=0.0, window_s=(8.0, 10.0), pulse=pulse())
    assert got is None


def test_the_ratio_is_the_published_one() -> None:
    # 1.85 at rest, 1.76 in hyperaemia, left coronary artery [Seligman2022].
    assert LEFT_RATIO == (1.85, 1.76)
