"""Rest after what goes through the guide: seen without temperature, judged where it was marked."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.indices import Evidence, compute
from arteriole.interpret import RULES, state
from arteriole.recording import Finding, Mark, Recording, Sheet
from arteriole.simulate import Session, session
from arteriole.study import Result, analyse

WAKE_S = 8.0


@pytest.fixture(scope="module")
def made() -> Session:
    return session("serial", 920003, rate_hz=200.0)  # SIMULATED


def with_channels(recording: Recording, **changed: np.ndarray) -> Recording:
    rows = tuple(
        replace(c, values=changed[c.name]) if c.name in changed else c for c in recording.channels
    )
    return replace(recording, channels=rows)


def pressures_only(recording: Recording) -> Recording:
    return replace(
        recording, channels=tuple(c for c in recording.channels if c.name in {"pa", "pd"})
    )


def through_the_guide(made: Session) -> list[tuple[float, float]]:
    kinds = {"flush", "injection"}
    return [(e["t0"], e["t1"]) for e in made.truth["events"] if e["kind"] in kinds]


def rest_marked(made: Session, start_s: float) -> Sheet:
    return replace(made.sheet, marks=(Mark(kind="rest", start_s=start_s, end_s=start_s + 10.0),))


def rest_of(result: Result) -> tuple[float, float]:
    return next((e.start_s, e.end_s) for e in result.episodes if e.kind == "rest")


@pytest.fixture(scope="module")
def bare(made: Session) -> Result:
    return analyse(pressures_only(made.recording), made.sheet)


def test_without_temperature_rest_waits_after_contrast(made: Session, bare: Result) -> None:
    start, end = rest_of(bare)
    assert all(b + 25.0 < start or a > end for a, b in through_the_guide(made))
    whole = analyse(made.recording, made.sheet)
    value = bare.index("resting_pd_pa").value
    assert value == pytest.approx(whole.index("resting_pd_pa").value, abs=0.003)


def test_without_temperature_hyperaemia_is_read_outside_the_wake(
    made: Session, bare: Result
) -> None:
    assert bare.index("ffr").value is not None
    for key in ("ffr", "ffr_plateau"):
        for start, end in bare.index(key).windows_s:
            assert not any(a < end and start < b + WAKE_S for a, b in through_the_guide(made))


def test_contrast_at_body_temperature_restarts_the_clock(made: Session) -> None:
    recording = made.recording
    rate = recording.channel("temp").rate_hz
    flush = next(a for a, _ in through_the_guide(made) if a > 55.0)
    a, b = (int((flush + x) * rate) for x in (-2.0, 20.0))
    warm = {}
    for name in ("temp", "shaft_temp"):
        values = recording.channel(name).values.copy()
        values[a:b] = np.median(values[b : b + int(20.0 * rate)])
        warm[name] = values
    result = analyse(with_channels(recording, **warm), made.sheet)
    assert not any(e.kind == "flush" and e.start_s > 50.0 for e in result.episodes)
    # marked ten seconds after it
    marked = analyse(with_channels(recording, **warm), rest_marked(made, flush + 12.0))
    assert "rest_too_early" in {f.code for f in marked.findings}


def test_a_marked_rest_in_a_flush_is_a_caution_and_has_no_clear_side(made: Session) -> None:
    flush = next(a for a, _ in through_the_guide(made) if a > 55.0)
    result = analyse(made.recording, rest_marked(made, flush + 5.0))
    told = next(f for f in result.findings if f.code == "rest_too_early")
    assert "a flush" in told.message
    index = result.index("resting_pd_pa")
    assert index.interval95 is not None
    assert index.certainty != "clear of the line"
    truth = made.truth["indices"]["resting_pdpa"]
    assert index.interval95[0] <= truth <= index.interval95[1]
    assert "Rest is not proven" in result.index("cfr_bolus").note


def test_a_short_recording_says_that_it_begins_too_shortly_before(made: Session) -> None:
    rows = []
    for c in made.recording.channels:
        a = int(105.0 * c.rate_hz)
        rows.append(replace(c, values=c.values[a : a + int(20.0 * c.rate_hz)]))
    result = analyse(replace(made.recording, channels=tuple(rows)), made.sheet)
    told = next(f for f in result.findings if f.code == "rest_too_early")
    assert "after the recording" in told.message
    assert all(
        result.index(k).certainty != "clear of the line"
        for k in ("resting_pd_pa", "full_cycle_ratio", "diastolic_ratio", "late_diastolic_ratio")
    )


def test_a_functional_pattern_needs_proven_rest() -> None:
    values = {"ffr": 0.95, "cfr_bolus": 1.5, "imr": 15.0, "baseline_resistance_index": 30.0,
              "resting_pd_pa": 0.97}  # fmt: skip
    rows = compute(Evidence(typed={k: (v, 0.001) for k, v in values.items()}))
    caution = Finding(
        code="rest_too_early", severity="caution", channel=None, start_s=60.0, end_s=70.0,
        message="Rest at 60.0 s begins 9 s after a flush.", do="Wait.",
    )  # fmt: skip
    table = RULES["default"]
    proven = state(rows, Sheet(), "steady", (), table)
    assert proven.pattern == "functional microvascular"
    unproven = state(rows, Sheet(), "steady", (caution,), table)
    assert unproven.pattern == "cannot say"
    assert any("Rest is not proven" in told for told in unproven.because)
