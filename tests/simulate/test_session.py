"""Sessions: the same seed gives the same bytes; every pattern and fault does what it says."""

import json

import numpy as np
import pytest

from arteriole.errors import OptionError, UnknownKey
from arteriole.recording.sheet import sheet_from_mapping, sheet_to_mapping
from arteriole.simulate import ARTEFACTS, PATTERNS, SETTABLE, session
from arteriole.simulate.patient import limits_of

RATE_HZ = 200.0


def made(pattern="normal", seed=1, **extra):
    return session(pattern, seed, **{"rate_hz": RATE_HZ, **extra})


@pytest.fixture(scope="module")
def clean():
    return made()


def test_same_seed_same_bytes(clean):
    again = made()

    assert again.recording.sha256 == clean.recording.sha256
    assert json.dumps(again.truth) == json.dumps(clean.truth)
    assert again.sheet == clean.sheet


def test_another_seed_is_another_patient(clean):
    assert made(seed=2).recording.sha256 != clean.recording.sha256


def test_everything_says_simulated(clean):
    assert clean.recording.simulated
    assert clean.sheet.simulated
    assert clean.truth["simulated"]


def test_the_sheet_is_a_sheet(clean):
    assert sheet_from_mapping(sheet_to_mapping(clean.sheet)) == clean.sheet


def test_the_truth_is_plain_json_without_nan(clean):
    json.dumps(clean.truth, allow_nan=False)


@pytest.mark.parametrize("pattern", sorted(PATTERNS))
def test_every_pattern_runs_and_keeps_its_promise(pattern):
    i = made(pattern, 4).truth["indices"]
    promise = {
        "normal": i["ffr"] > 0.9 and i["cfr"] > 2.0,
        "focal": i["ffr"] < 0.93,
        "serial": i["ffr"] < 0.93,
        "diffuse": i["ffr"] < 0.93,
        "structural": i["cfr"] < 2.5 and i["imr"] > 25.0 and i["ffr"] > 0.85,
        "functional": i["cfr"] < 2.8 and i["ffr"] > 0.85,
        "mixed": i["ffr"] < 0.96 and i["imr"] > 25.0,
        "collateralised": i["collateral_flow_index"] > 0.2 and i["ffr"] < 0.8,
        "infarction": i["imr"] > 30.0,
        "spasm": i["ffr"] > 0.9,
        "stented": 0.8 < i["ffr"] < 1.0,
    }

    assert promise[pattern], i


def test_an_unknown_pattern_is_answered_with_the_known_ones():
    with pytest.raises(UnknownKey, match="Pattern 'x' is not known; allowed: normal, focal"):
        session("x", 1)


def test_an_unknown_artefact_is_answered_with_the_known_ones():
    with pytest.raises(UnknownKey, match="Artefact 'x' is not known; allowed: slow_injection"):
        session("normal", 1, artefacts=["x"])


def test_an_unknown_constant_is_answered_with_the_known_ones():
    with pytest.raises(UnknownKey, match="constant 'x' is not known; allowed: heart_rate_bpm"):
        session("normal", 1, overrides={"x": 1.0})


def test_a_rate_out_of_range_is_refused():
    with pytest.raises(OptionError, match="10 Hz was given; allowed: 50 to 4000 Hz"):
        session("normal", 1, rate_hz=10.0)


def test_a_constant_set_by_hand_is_in_the_patient():
    truth = made(overrides={"heart_rate_bpm": 90.0}).truth

    assert truth["patient"]["heart_rate_bpm"] == 90.0
    assert truth["states"]["rest"]["hr"] == pytest.approx(90.0, rel=0.05)


def test_channels_are_as_asked():
    s = made(shaft=False, ecg_channel=False, relative=True, stepped=False)
    temp = s.recording.channel("temp")

    assert [c.name for c in s.recording.channels] == ["pa", "pd", "temp"]
    assert np.median(temp.values) == pytest.approx(0.0, abs=0.3)
    assert temp.quantum == 0.0
    assert s.sheet.temp_reference == "relative"


def test_steps_are_those_of_twelve_bits(clean):
    for name in ("pa", "pd", "temp"):
        channel = clean.recording.channel(name)
        found = np.unique(np.round(np.diff(np.unique(channel.values)) / channel.quantum, 6))
        assert np.allclose(found, np.round(found), atol=1e-6)


def test_equalisation_brings_pd_to_pa(clean):
    end = next(e["t1"] for e in clean.truth["events"] if e["kind"] == "equalise")
    a, b = int((end + 0.2) * RATE_HZ), int((end + 4.2) * RATE_HZ)
    pa, pd = (clean.recording.channel(n).values[a:b].mean() for n in ("pa", "pd"))

    assert pd - pa == pytest.approx(clean.truth["equalisation_error_mmHg"], abs=0.4)


@pytest.mark.parametrize("name", sorted(ARTEFACTS))
def test_every_fault_is_named_with_its_place(name):
    s = made(artefacts=[name])
    spans = s.truth["artefact_details"][name]["spans"]

    assert s.truth["artefacts"] == [name]
    assert spans
    assert all(0.0 <= a < b <= s.recording.duration_s + 40.0 for a, b in spans)


@pytest.mark.parametrize(
    "name", ["pd_drift", "pd_step", "eq_offset", "damped_pa", "ringing", "whip", "clipping",
             "dropout", "temp_baseline", "air"],
)  # fmt: skip
def test_a_gauge_fault_leaves_the_truth_alone(name, clean):
    # Only the gauge is wrong; heart and artery do not know of it.
    assert made(artefacts=[name]).truth["indices"] == clean.truth["indices"]


def value(s, name, key):
    a, b = (round(v * RATE_HZ) for v in s.truth["artefact_details"][name]["spans"][0])
    row = s.recording.channel(key).values[a:b]
    return row[np.isfinite(row)]


def test_drift_is_seen_at_the_check():
    s = made(artefacts=["pd_drift"])

    assert abs(s.truth["drift_mmHg_at_check"]) > 2.5
    check = next(e for e in s.truth["events"] if e["kind"] == "drift_check")
    a, b = int((check["t0"] + 0.5) * RATE_HZ), int(check["t1"] * RATE_HZ)
    seen = np.mean(s.recording.channel("pd").values[a:b] - s.recording.channel("pa").values[a:b])
    assert seen == pytest.approx(s.truth["drift_mmHg_at_check"], abs=0.3)


def test_a_damped_line_lowers_the_pulse_and_keeps_the_mean(clean):
    damped = made(artefacts=["damped_pa"])
    a, b = (round(v * RATE_HZ) for v in damped.truth["states"]["hyper"]["window"])
    with_, without = (x.recording.channel("pa").values[a:b] for x in (damped, clean))

    assert with_.mean() == pytest.approx(without.mean(), abs=0.5)
    assert np.ptp(with_) < 0.9 * np.ptp(without)


def test_an_open_line_overshoots(clean):
    ringing = made(artefacts=["ringing"])
    a, b = (round(v * RATE_HZ) for v in clean.truth["states"]["rest"]["window"])
    with_, without = (x.recording.channel("pa").values[a:b].max() for x in (ringing, clean))

    assert with_ > without + 3.0


def test_lost_samples_are_lost():
    s = made(artefacts=["dropout"])
    d = s.truth["artefact_details"]["dropout"]
    channel = s.recording.channel(d["channels"][0])
    middle = sum(d["spans"][0]) / 2.0

    assert np.isnan(channel.values[int(middle * RATE_HZ)])


def test_submaximal_hyperaemia_is_not_reached():
    truth = made(artefacts=["submaximal_hyperaemia"]).truth

    assert not truth["hyperaemia"]["reached"]
    assert truth["indices"]["hyperaemic_dilation_fraction"] < 0.8
    assert truth["indices"]["ffr_at_maximal_dilation"] < truth["indices"]["ffr"] + 0.005


def test_a_migrated_wire_reads_a_shorter_artery():
    truth = made("diffuse", artefacts=["wire_migration"]).truth

    last = truth["injections"][-1]
    assert last["vessel_volume_ml"] < truth["injections"][0]["vessel_volume_ml"]
    assert truth["indices"]["ffr"] > truth["indices"]["ffr_original_site"]


def test_a_wedged_guide_takes_pa_down():
    s = made(artefacts=["guide_wedge"])
    a, b = (round(v * RATE_HZ) for v in s.truth["artefact_details"]["guide_wedge"]["spans"][0])
    pa = s.recording.channel("pa").values

    assert pa[a:b].mean() < pa[a - 1000 : a].mean() - 4.0


def test_an_early_injection_follows_at_once():
    truth = made(artefacts=["early_injection"]).truth
    early = [k for k, i in enumerate(truth["injections"]) if i["quality"] == "early"]

    assert early
    for k in early:
        assert truth["injections"][k]["t_start"] - truth["injections"][k - 1]["t_end"] < 4.0


def test_doses_into_the_artery_stand_for_a_bolus_each():
    s = made("focal", 3, route="intracoronary")
    hyper = [i for i in s.truth["injections"] if i["state"] == "hyper"]

    assert sum(e["kind"] == "adenosine_ic" for e in s.truth["events"]) == 4
    assert all(i["dilation_pre"] > 0.85 for i in hyper)
    assert s.truth["pullback"] is None
    assert s.truth["indices"]["ffr"] == pytest.approx(
        s.truth["indices"]["ffr_at_maximal_dilation"], abs=0.02
    )
    assert s.sheet.hyperaemia.route == "intracoronary"


def test_a_single_dose_has_no_waves():
    with pytest.raises(OptionError, match="intravenous"):
        made("focal", 3, route="intracoronary", artefacts=["unstable_hyperaemia"])


@pytest.mark.parametrize(
    ("key", "value"),
    [("heart_rate_bpm", 0.0), ("vessel_volume_ml", -1.0), ("lesion1_narrowing", 1.0),
     ("sensor_lag_s", float("nan"))],
)  # fmt: skip
def test_a_constant_out_of_range_is_refused(key, value):
    with pytest.raises(OptionError, match=f"Patient constant {key} was given"):
        session("normal", 1, overrides={key: value})


@pytest.mark.slow
@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("key", SETTABLE)
def test_the_ends_of_every_range_can_be_solved(key, end):
    s = session("focal", 2, overrides={key: limits_of(key)[end]}, rate_hz=100.0)

    assert all(np.isfinite(c.values).all() for c in s.recording.channels)
    json.dumps(s.truth, allow_nan=False)


def test_a_drug_in_waves_and_a_slip_still_have_a_plateau() -> None:
    # In this patient the drug's level is reached only after the wire has slipped.
    made = session(
        "stented", 1105151072, artefacts=["guide_wedge", "unstable_hyperaemia", "wire_migration"]
    )
    truth = made.truth["indices"]
    assert truth["ffr_plateau_min5s"] <= truth["ffr_plateau_mean"] <= truth["ffr_plateau_max5s"]
