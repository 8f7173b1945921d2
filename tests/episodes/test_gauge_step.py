"""A gauge that stepped is told from one that drifted, a wire that slipped and a drug that came."""

import numpy as np
import pytest

from arteriole.episodes.findings import findings_of
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.gauge_step import step_of
from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.recording import Settings

from .test_gauge_setting import BEAT_S, table

N, AT = 300, 150
PLACED_S, NO_PULLBACK = 20.0, None


def gauge(first=0.0, last=6.0):
    return Gauge(
        equalisation=GaugeReading(state="matched", offset_mmhg=first, start_s=1.0, end_s=5.0),
        drift=GaugeReading(state="off", offset_mmhg=last, start_s=235.0, end_s=240.0),
    )


def trace(course, *, bent=0.0, noise=0.3):
    """Return beats whose Pd lies 15 mmHg low plus a course, with noise, and breathing."""
    rng = np.random.default_rng(5)
    k = np.arange(N)
    breath = 0.6 * np.sin(2.0 * np.pi * k / 5.0)
    gap = -15.0 + np.asarray(course) + breath + rng.normal(0.0, noise, N)
    return table(gap, bent * (np.asarray(course) / 6.0))


def test_a_step_that_is_what_the_gauges_moved_explains_it() -> None:
    got = step_of(*trace(6.0 * (np.arange(N) >= AT)), gauge(), PLACED_S, NO_PULLBACK)
    assert got is not None
    assert got.time_s == pytest.approx(AT * BEAT_S, abs=BEAT_S)
    assert got.size_mmhg == pytest.approx(6.0, abs=3.0 * got.size_sd_mmhg)
    assert got.start_s <= AT * BEAT_S <= got.end_s


def test_it_is_seen_across_a_stretch_that_was_lost() -> None:
    beats, quality = trace(6.0 * (np.arange(N) >= AT))
    quality.pd_ok[AT - 4 : AT + 4] = False  # 6.4 s, an injection
    got = step_of(beats, quality, gauge(), PLACED_S, NO_PULLBACK)
    assert got is not None
    assert got.start_s <= AT * BEAT_S <= got.end_s
    quality.pd_ok[AT - 8 : AT + 8] = False
    assert step_of(beats, quality, gauge(), PLACED_S, NO_PULLBACK) is None


@pytest.mark.parametrize(
    ("course", "bent"),
    [
        pytest.param(np.linspace(0.0, 6.0, N), 0.0, id="a drift"),
        pytest.param(3.0 * (np.arange(N) >= AT), 0.0, id="another size"),
        pytest.param(-6.0 * (np.arange(N) >= AT), 0.0, id="the other way"),
        pytest.param(6.0 * (np.arange(N) >= AT), 2.0, id="a wire: diastole gains more"),
        pytest.param(6.0 / (1.0 + np.exp((AT - np.arange(N)) / 6.0)), 0.0, id="a drug"),
    ],
)
def test_nothing_else_does(course, bent: float) -> None:
    assert step_of(*trace(course, bent=bent), gauge(), PLACED_S, NO_PULLBACK) is None


def test_gauges_that_hardly_moved_or_were_not_checked_have_no_step() -> None:
    beats, quality = trace(1.5 * (np.arange(N) >= AT))
    assert step_of(beats, quality, gauge(last=1.5), PLACED_S, NO_PULLBACK) is None
    beats, quality = trace(6.0 * (np.arange(N) >= AT))
    assert step_of(beats, quality, Gauge(drift=gauge().drift), PLACED_S, NO_PULLBACK) is None


def test_what_the_wire_does_on_its_way_is_no_step_of_the_gauge() -> None:
    beats, quality = trace(6.0 * (np.arange(N) >= AT))
    assert step_of(beats, quality, gauge(), (AT + 20) * BEAT_S, NO_PULLBACK) is None
    assert step_of(beats, quality, gauge(), PLACED_S, (AT - 20) * BEAT_S) is None


def test_the_drift_finding_tells_since_when() -> None:
    both = gauge()
    step = step_of(*trace(6.0 * (np.arange(N) >= AT)), both, PLACED_S, NO_PULLBACK)
    whole = Gauge(equalisation=both.equalisation, drift=both.drift, step=step)
    hyper = Hyperaemia(state="steady", start_s=100.0, end_s=200.0)
    said = {f.code: f.message for f in findings_of((), (), whole, hyper, 0.0, Settings())}
    assert "It came at once, at 120 s" in said["drift_off"]
