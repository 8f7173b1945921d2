"""The offset at any time under each way the gauge may have drifted."""

import pytest

from arteriole.episodes.drift_course import offset_at
from arteriole.episodes.gauge import Gauge, GaugeReading

GAUGE = Gauge(
    equalisation=GaugeReading(state="matched", offset_mmhg=0.5, start_s=40.0, end_s=50.0, beats=9),
    drift=GaugeReading(state="off", offset_mmhg=-3.5, start_s=250.0, end_s=260.0, beats=9),
)


def test_even_drift_is_halfway_at_half_time() -> None:
    at = offset_at(GAUGE, 150.0)
    assert at is not None
    assert at.even_mmhg == pytest.approx(-1.5)


@pytest.mark.parametrize("time_s", [51.0, 100.0, 249.0])
def test_steps_bound_every_course_between_the_checks(time_s: float) -> None:
    at = offset_at(GAUGE, time_s)
    assert at is not None
    assert (at.lowest_mmhg, at.highest_mmhg) == (-3.5, 0.5)
    assert at.lowest_mmhg <= at.even_mmhg <= at.highest_mmhg


@pytest.mark.parametrize(("time_s", "offset"), [(45.0, 0.5), (255.0, -3.5), (900.0, -3.5)])
def test_at_and_beyond_a_check_every_course_agrees_with_it(time_s: float, offset: float) -> None:
    at = offset_at(GAUGE, time_s)
    assert at is not None
    assert (at.lowest_mmhg, at.highest_mmhg) == (offset, offset)


def test_one_check_alone_gives_no_course() -> None:
    assert offset_at(Gauge(equalisation=GaugeReading(), drift=GAUGE.drift), 100.0) is None
    assert offset_at(Gauge(equalisation=GAUGE.equalisation, drift=GaugeReading()), 100.0) is None
