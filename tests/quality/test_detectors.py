"""Every detector on one simulated recording with its fault and one without."""

from typing import Any

import numpy as np
import pytest

from arteriole.quality import DETECTORS, Quality, grade
from arteriole.recording import Channel, Recording
from arteriole.signal import Beats, align, find_beats
from arteriole.simulate import Session, drawn_session, session

CAUSES = {
    "damped_pa": "pa_damped", "air": "pa_damped", "guide_wedge": "pa_ventricularised",
    "ringing": "pa_ringing", "whip": "wire_whip", "ectopy": "ectopy", "dropout": "signal_lost",
    "clipping": "signal_clipped", "temp_baseline": "temp_baseline",
}  # fmt: skip


def read(recording: Recording) -> tuple[Beats, Quality]:
    grid = align(recording)
    beats = find_beats(grid)
    return beats, grade(grid, beats)


def worth_acting(quality: Quality) -> list[str]:
    return [f.code for f in quality.findings if f.severity != "note"]


@pytest.fixture(scope="module")
def plain() -> Session:
    return session("focal", 11, rate_hz=250.0)


@pytest.fixture(scope="module")
def plain_read(plain: Session) -> tuple[Beats, Quality]:
    return read(plain.recording)


def test_a_clean_session_carries_no_caution(plain_read: tuple[Beats, Quality]) -> None:
    assert worth_acting(plain_read[1]) == []


def test_a_clean_session_keeps_nearly_all_of_its_beats(
    plain_read: tuple[Beats, Quality], plain: Session
) -> None:
    beats, quality = plain_read
    # what is lost is zeroing, flushes and injections: under a tenth of the session
    assert quality.clean.mean() > 0.88
    for state in ("rest", "hyper"):
        start, end = plain.truth["states"][state]["window"]
        inside = beats.between(start, end)
        assert quality.clean[inside].mean() >= 0.97


def test_zeroing_is_told_and_is_a_note(plain_read: tuple[Beats, Quality], plain: Session) -> None:
    zero = next(e for e in plain.truth["events"] if e["kind"] == "zero_open_to_air")
    told = [f for f in plain_read[1].findings if f.code == "open_to_air"]
    assert {f.severity for f in told} == {"note"}
    assert min(abs((f.start_s or 0.0) - zero["t0"]) for f in told) < 1.0
    assert min(abs((f.end_s or 0.0) - zero["t1"]) for f in told) < 1.0


def test_beats_in_flushes_and_injections_are_left_out_of_pa(
    plain_read: tuple[Beats, Quality], plain: Session
) -> None:
    beats, quality = plain_read
    for event in plain.truth["events"]:
        if event["kind"] in ("flush", "injection") and event.get("pa_artefact") == "flat":
            a, e = event["pa_lost"]
            inside = (beats.end_s > a + 0.1) & (beats.start_s < e - 0.1)
            assert not (quality.pa_ok & inside & (beats.start_s > a)).any(), event


@pytest.mark.parametrize("fault", sorted(CAUSES))
def test_each_fault_is_named_where_it_is(fault: str) -> None:
    made = session("focal", 11, artefacts=[fault], rate_hz=250.0)
    beats, quality = read(made.recording)
    code = CAUSES[fault]
    told = [f for f in quality.findings if f.code == code and f.severity != "note"]
    assert told, [f.code for f in quality.findings]
    spans = made.truth["artefact_details"][fault]["spans"]
    assert any(
        (f.start_s or 0.0) <= e + 4.0 and (f.end_s or 1e9) >= a - 4.0
        for f in told
        for a, e in spans
    )
    assert all(f.channel and f.message and f.do for f in told)
    assert beats.count == len(quality.cause)


@pytest.fixture(scope="module")
def damped() -> tuple[Session, Beats, Quality]:
    made = session("normal", 21, artefacts=["damped_pa"], rate_hz=500.0)
    return made, *read(made.recording)


def inside_of(beats: Beats, spans: Any, edge_s: float = 1.5) -> Any:
    return np.any([(beats.start_s >= a + edge_s) & (beats.end_s <= e) for a, e in spans], axis=0)


def test_damped_beats_are_told_from_sound_ones(damped: tuple[Session, Beats, Quality]) -> None:
    made, beats, quality = damped
    spans = made.truth["artefact_details"]["damped_pa"]["spans"]
    told = np.array([c == "pa_damped" for c in quality.cause])
    other = np.array([c not in ("", "pa_damped") for c in quality.cause])
    inside = inside_of(beats, spans)
    before = beats.end_s < spans[0][0] - 1.5
    assert told[inside & ~other].mean() >= 0.95
    assert 1.0 - told[before].mean() >= 0.98


def test_a_damped_beat_keeps_its_mean_and_loses_its_shape(
    damped: tuple[Session, Beats, Quality],
) -> None:
    _, _, quality = damped
    told = np.array([c == "pa_damped" for c in quality.cause])
    assert quality.pa_ok[told].all()
    assert not quality.shape_ok[told].any()


def test_a_narrowing_under_full_flow_is_not_called_damping_or_ringing() -> None:
    made = session("collateralised", 23, rate_hz=250.0)
    assert worth_acting(read(made.recording)[1]) == []


def test_atrial_fibrillation_is_a_note_and_no_flood_of_extra_beats() -> None:
    made = session("normal", 31, artefacts=["af"], rate_hz=250.0)
    _, quality = read(made.recording)
    assert "rhythm_irregular" in [f.code for f in quality.findings]
    assert quality.regular.mean() > 0.95


def test_no_detector_needs_more_than_pa() -> None:
    made = session("normal", 11, rate_hz=250.0)
    alone = Recording(name="pa", sha256="", format="test", channels=(made.recording.channel("pa"),))
    beats, quality = read(alone)
    assert beats.count > 100
    assert worth_acting(quality) == []


@pytest.mark.parametrize("size", [2, 50, 700])
def test_a_recording_too_short_for_a_beat_is_graded_without_complaint(size: int) -> None:
    row = np.linspace(70.0, 90.0, size)
    pa = Channel(name="pa", unit="mmHg", rate_hz=250.0, values=row)
    beats, quality = read(Recording(name="x", sha256="", format="test", channels=(pa,)))
    assert beats.count == 0
    assert quality.clean.size == 0


@pytest.mark.parametrize("rate_hz", [1.0, 20.0, 125.0, 2000.0])
@pytest.mark.parametrize("kind", ["noise", "sine", "lost", "holes", "walk"])
def test_signals_that_are_no_pressure_are_graded_without_complaint(
    rate_hz: float, kind: str
) -> None:
    rng, n = np.random.default_rng(4), 6000
    row = {
        "noise": 90.0 + 50.0 * rng.standard_normal(n),
        "sine": 90.0 + 30.0 * np.sin(np.arange(n) / rate_hz * 8.0),
        "lost": np.full(n, np.nan),
        "holes": np.where(rng.random(n) < 0.3, np.nan, 100.0),
        "walk": np.cumsum(rng.standard_normal(n)),
    }[kind]
    channels = (
        Channel(name="pa", unit="mmHg", rate_hz=rate_hz, values=row),
        Channel(name="pd", unit="mmHg", rate_hz=rate_hz, values=row[::-1].copy()),
        Channel(name="temp", unit="°C", rate_hz=10.0, values=rng.standard_normal(900) / 50 + 37.0),
    )
    beats, quality = read(Recording(name="x", sha256="", format="test", channels=channels))
    assert quality.clean.size == beats.count == len(quality.cause)


def test_every_detector_states_its_look_ahead() -> None:
    import sys

    for detect in DETECTORS:
        assert "ook-ahead" in (sys.modules[detect.__module__].__doc__ or ""), detect.__module__


def test_a_wire_that_slips_between_two_injections_is_told() -> None:
    made = session("diffuse", 5, artefacts=["wire_migration"], rate_hz=250.0)
    _, quality = read(made.recording)
    at = made.truth["artefact_details"]["wire_migration"]["spans"][0][0]
    told = [f for f in quality.findings if f.code == "ratio_step" and f.severity == "caution"]
    assert any(abs((f.start_s or 0.0) - at) < 2.5 for f in told), told


def test_a_ringing_line_does_not_hide_a_step() -> None:
    made = session("diffuse", 5, artefacts=["wire_migration", "ringing"], rate_hz=250.0)
    _, quality = read(made.recording)
    at = made.truth["artefact_details"]["wire_migration"]["spans"][0][0]
    assert any(
        f.code == "ratio_step" and abs((f.start_s or 0.0) - at) < 2.5 for f in quality.findings
    )


@pytest.mark.parametrize("seed", [42, 127, 27])
def test_deep_breathing_is_not_a_blocked_ostium(seed: int) -> None:
    # These draws breathe by more than 8 mmHg; injections hide a crest between two troughs.
    _, quality = read(drawn_session(seed).recording)
    assert "pa_ventricularised" not in worth_acting(quality)


def test_a_wire_that_strikes_the_wall_does_not_hide_a_ringing_line() -> None:
    _, quality = read(drawn_session(133).recording)  # ringing, and whip for a while
    assert {"pa_ringing", "wire_whip"} <= set(worth_acting(quality))


def test_a_blocked_ostium_behind_a_large_gap_is_no_flush() -> None:
    # Pd follows Pa down to half, so the line is not what moved; the gap changes by 12 mmHg.
    made = session("focal", 11, artefacts=["guide_wedge", "ringing"], rate_hz=250.0)
    _, quality = read(made.recording)
    assert "pa_ventricularised" in worth_acting(quality)


def test_one_beat_on_the_wires_way_in_is_no_whip() -> None:
    _, quality = read(drawn_session(43).recording)
    assert "wire_whip" not in worth_acting(quality)


def test_a_range_that_cuts_the_peaks_off_does_not_hide_extra_beats() -> None:
    _, quality = read(drawn_session(9098).recording)  # clipping and 27 extra beats
    assert {"signal_clipped", "ectopy"} <= set(worth_acting(quality))


def test_a_call_by_rule_is_as_sure_as_such_calls_were_right(
    plain_read: tuple[Beats, Quality],
) -> None:
    _, quality = plain_read
    cause = np.array(quality.cause)
    assert set(quality.probability[cause == "pa_disturbed"]) <= {0.96, 1.0}
    assert 0.96 in set(quality.probability[cause == "pa_disturbed"])
    assert set(quality.probability[cause == "open_to_air"]) == {1.0}
    assert float(quality.probability[cause == ""].max()) < 0.5
