"""What the episodes leave to be said."""

from typing import Any

import pytest

from arteriole.episodes.episode import Episode
from arteriole.episodes.findings import findings_of
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.hyperaemia import Hyperaemia, Stretch
from arteriole.episodes.rest import RestDoubt
from arteriole.recording.settings import Settings

REST = Episode(kind="rest", start_s=80.0, end_s=104.0)
BOLUS = Episode(kind="injection", start_s=110.0, end_s=116.0, phase="rest")
MATCHED = GaugeReading(state="matched", offset_mmhg=0.3, start_s=40.0, end_s=46.0, beats=5)
OFF = GaugeReading(state="off", offset_mmhg=-4.2, start_s=300.0, end_s=309.5, beats=9)
STEADY = Hyperaemia(
    state="steady", states=(Stretch(start_s=200.0, end_s=280.0, state="steady"),),
    start_s=200.0, end_s=280.0, range_ratio=0.02, dispersion_percent=1.0,
)  # fmt: skip


def said(**changed: Any) -> dict[str, Any]:
    given: dict[str, Any] = {
        "episodes": (REST, BOLUS), "rest": RestDoubt(), "hyperaemia": STEADY, "pa_zero_mmhg": 0.1,
        "gauge": Gauge(equalisation=MATCHED, drift=MATCHED), "settings": Settings(),
    } | changed  # fmt: skip
    return {f.code: f for f in findings_of(**given)}


def hyper(**changed: Any) -> Hyperaemia:
    given: dict[str, Any] = {
        "state": "steady", "states": STEADY.states, "start_s": 200.0, "end_s": 280.0,
    } | changed  # fmt: skip
    return Hyperaemia(**given)


CASES: list[tuple[dict[str, Any], set[str]]] = [
    ({}, set()),
    ({"pa_zero_mmhg": 3.0}, {"pa_zero_off"}),
    ({"pa_zero_mmhg": None}, set()),
    ({"gauge": Gauge(equalisation=OFF, drift=MATCHED)}, {"equalisation_off"}),
    ({"gauge": Gauge(equalisation=MATCHED, drift=OFF)}, {"drift_off"}),
    (
        {"gauge": Gauge(equalisation=GaugeReading(), drift=GaugeReading())},
        {"equalisation_not_checked", "drift_not_checked"},
    ),
    ({"episodes": (BOLUS,)}, {"no_rest"}),
    ({"rest": RestDoubt(words={"early": "begins 9 s after a flush"})}, {"rest_too_early"}),
    (
        {"rest": RestDoubt(words={"early": "overlaps a flush", "moving": "is not still"})},
        {"rest_too_early", "rest_moving"},
    ),
    ({"rest": RestDoubt(words={"nitrate": "begins 25 s after nitrate"})}, {"rest_after_nitrate"}),
    ({"episodes": (REST,)}, {"no_injections"}),
    ({"hyperaemia": None}, set()),
    ({"hyperaemia": Hyperaemia(state="not reached")}, {"hyperaemia_not_reached"}),
    ({"hyperaemia": hyper(range_ratio=0.08)}, {"hyperaemia_unsteady"}),
    (
        {"hyperaemia": hyper(states=(Stretch(start_s=250.0, end_s=280.0, state="fading"),))},
        {"hyperaemia_unsteady"},
    ),
    ({"hyperaemia": hyper(submaximal=True)}, {"hyperaemia_submaximal"}),
]


@pytest.mark.parametrize(("changed", "codes"), CASES)
def test_each_fault_is_said_and_nothing_else(changed: dict[str, Any], codes: set[str]) -> None:
    assert set(said(**changed)) == codes


@pytest.mark.parametrize("changed", [c for c, codes in CASES if codes])
def test_every_finding_is_a_caution_with_a_remedy(changed: dict[str, Any]) -> None:
    for finding in said(**changed).values():
        assert finding.severity == "caution"
        assert finding.do.endswith(".")
        assert "dose" not in finding.do
        assert "more" not in finding.do.split()


def test_a_gauge_finding_names_its_offset_and_time() -> None:
    found = said(gauge=Gauge(equalisation=MATCHED, drift=OFF))["drift_off"]
    assert "-4.2 mmHg" in found.message
    assert (found.start_s, found.end_s) == (300.0, 309.5)


def test_the_line_for_the_zero_is_the_laboratorys() -> None:
    assert "pa_zero_off" in said(pa_zero_mmhg=1.5, settings=Settings(drift_off_mmhg=1.0))


def test_hyperaemia_that_was_not_full_is_not_also_called_missing() -> None:
    missed = Stretch(start_s=200.0, end_s=280.0, state="not reached")
    half = Hyperaemia(state="not reached", states=(missed,), submaximal=True, unsteady=True)
    assert {"hyperaemia_submaximal", "hyperaemia_unsteady"} == set(said(hyperaemia=half))


def test_an_uneven_effect_is_said() -> None:
    assert set(said(hyperaemia=hyper(unsteady=True))) == {"hyperaemia_unsteady"}


@pytest.mark.parametrize("swing", [0.02, 0.08])
def test_regular_waves_are_told_with_their_period(swing: float) -> None:
    waves = hyper(unsteady=True, range_ratio=swing, wave_s=23.4)
    message = said(hyperaemia=waves)["hyperaemia_unsteady"].message
    assert "in waves of about 23 s" in message
    assert ("0.08" in message) == (swing > 0.05)


@pytest.mark.parametrize(("offset", "ratio", "line"), [
    (-4.2, 0.955, "(line: 2.0 mmHg)"), (-1.9, 0.965, "(Pd/Pa 0.965, line: 0.97 to 1.03)"),
])  # fmt: skip
def test_a_gauge_that_is_off_is_told_by_the_line_it_broke(offset, ratio, line) -> None:
    off = GaugeReading(
        state="off", offset_mmhg=offset, ratio=ratio, start_s=300.0, end_s=309.5, beats=9
    )
    message = said(gauge=Gauge(equalisation=MATCHED, drift=off))["drift_off"].message
    assert line in message
    assert message.count("line:") == 1


def test_a_drift_that_no_step_explains_may_be_a_sensor_short_of_the_guide_tip() -> None:
    off = said(gauge=Gauge(equalisation=MATCHED, drift=OFF))["drift_off"]
    assert off.do.startswith("See that the sensor reached the guide tip.")
