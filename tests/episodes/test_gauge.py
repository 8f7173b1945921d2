"""Offset, gain and lag of a gauge check carry their intervals."""

import numpy as np
import pytest

from arteriole.episodes.gauge import GaugeReading, GaugeStep
from arteriole.episodes.gauge_check import _gain
from arteriole.report.checks import gauge, stepped


def test_intervals_are_two_sided_and_missing_where_nothing_is_known():
    one = GaugeReading(state="matched", offset_mmhg=0.5, offset_sd_mmhg=0.2, lag_s=0.014)

    assert one.offset_interval95_mmhg == pytest.approx((0.108, 0.892), abs=1e-3)
    assert one.lag_interval95_s is None
    assert GaugeReading().gain_interval95 is None


def test_the_gain_of_many_checks_lies_within_two_standard_errors_as_often_as_said():
    # true gain 0.98; pulses of 45 mmHg, each Pd pulse 4 % off: 95 % of checks within 1.96 SD
    rng = np.random.default_rng(2)
    inside = 0
    for _ in range(800):
        pa = rng.normal(45.0, 2.0, 25)
        gain, sd = _gain(pa, 0.98 * pa * (1.0 + rng.normal(0.0, 0.04, 25)))
        inside += abs(gain - 0.98) < 1.96 * sd

    assert inside / 800 == pytest.approx(0.95, abs=0.03)


def test_a_beat_without_a_known_pulse_tells_nothing_of_the_gain():
    pa, pd = np.array([40.0, 41.0, np.nan, 42.0, 40.0]), np.array([38.0, np.nan, 39.0, 39.9, 38.0])
    gain, _ = _gain(pa, pd)

    assert gain == pytest.approx(0.95)
    assert _gain(np.array([np.nan, 40.0]), np.array([40.0, np.nan])) == (None, None)


def test_a_check_is_printed_with_its_intervals():
    said = gauge(
        GaugeReading(
            state="matched", offset_mmhg=-0.05, offset_sd_mmhg=0.15, ratio=0.9995, gain=0.98,
            gain_sd=0.012, lag_s=0.014, lag_sd_s=0.0003, start_s=47.0, end_s=51.6, beats=5,
        )
    )  # fmt: skip

    assert said == (
        "matched: Pd − Pa −0.1 mmHg (−0.3 to 0.2), ratio 1.000, gain 0.98 (0.96 to 1.00), "
        "lag 14 ms (13 to 15), 5 beats at 47.0 to 51.6 s"
    )


def test_a_step_is_printed_with_its_moment():
    step = GaugeStep(time_s=277.6, size_mmhg=-6.84, size_sd_mmhg=0.1, start_s=277.3, end_s=278.0)

    assert stepped(step) == (
        "Pd moved by −6.8 mmHg at 277.3 to 278.0 s, as much as the gauges parted"
    )
