import base64
import json

import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole.errors import OptionError
from arteriole.exchange.fhir import bundle

AT = "2026-03-05T10:00:00Z"


def of_kind(text, kind):
    return [e["resource"] for e in json.loads(text)["entry"]
            if e["resource"]["resourceType"] == kind]  # fmt: skip


@pytest.mark.parametrize("study", ["full", "poor"])
def test_bundle_is_accepted_by_the_r4b_models(study, request, recording):
    text = bundle(request.getfixturevalue(study), at=AT, recording=recording, pdf=b"%PDF-1.7")
    assert Bundle.model_validate_json(text).type == "collection"


def test_every_reference_points_into_the_bundle(full):
    whole = json.loads(bundle(full, at=AT))
    there = {e["fullUrl"] for e in whole["entry"]}

    def references(value):
        if isinstance(value, dict):
            for k, v in value.items():
                yield from [v] if k == "reference" else references(v)
        elif isinstance(value, list):
            for v in value:
                yield from references(v)

    asked = set(references(whole))
    assert asked
    assert asked <= there


def test_numbers_carry_ucum_units_and_no_float_noise(full):
    text = bundle(full, at=AT)
    rows = {r["code"]["coding"][0]["code"]: r for r in of_kind(text, "Observation")}
    assert rows["371842003"]["valueQuantity"]["value"] == 0.842
    assert rows["imr"]["valueQuantity"]["code"] == "mm[Hg].s"
    assert "0000000" not in text


def test_withheld_is_absent_with_a_reason_never_a_number(poor):
    for row in of_kind(bundle(poor, at=AT), "Observation"):
        assert "valueQuantity" not in row
        assert row["dataAbsentReason"]["text"] == "Pa is damped throughout."


def test_simulated_studies_are_labelled_test_material(full):
    for entry in json.loads(bundle(full, at=AT))["entry"]:
        assert entry["resource"]["meta"]["security"][0]["code"] == "HTEST"
    report = of_kind(bundle(full, at=AT), "DiagnosticReport")[0]
    assert report["conclusion"].startswith("SIMULATED")
    assert "Not assessed: vasospasm" in report["conclusion"]


def test_letter_travels_in_the_report(full):
    report = of_kind(bundle(full, at=AT, pdf=b"%PDF-1.7 x"), "DiagnosticReport")[0]
    assert base64.b64decode(report["presentedForm"][0]["data"]) == b"%PDF-1.7 x"
    assert report["status"] == "preliminary"
    assert report["effectiveDateTime"] == "2026-03-04"


def test_signal_excerpt_gives_back_the_samples(full, recording):
    rows = of_kind(bundle(full, at=AT, recording=recording), "Observation")
    seen = next(r for r in rows if r["code"]["coding"][0]["code"] == "signal-pa")
    counts = [float(v) * 0.01 for v in seen["valueSampledData"]["data"].split()]
    first = round(301.2 * 250)
    assert counts == pytest.approx(
        recording.channel("pa").values[first : first + len(counts)].tolist(), abs=0.0051
    )


def test_time_without_a_zone_is_refused(full):
    with pytest.raises(OptionError, match="Add the zone"):
        bundle(full, at="2026-03-05")
