import base64
import hashlib
import json
import os
import shutil
import subprocess

import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole.errors import OptionError
from arteriole.exchange.fhir import bundle
from arteriole.recording.edit import EditRecord, SheetSet, Undo

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


def test_letter_travels_once_and_report_and_document_point_to_it(full):
    text = bundle(full, at=AT, pdf=b"%PDF-1.7 x")
    report = of_kind(text, "DiagnosticReport")[0]
    document = of_kind(text, "DocumentReference")[0]
    binary = of_kind(text, "Binary")
    assert [base64.b64decode(b["data"]) for b in binary] == [b"%PDF-1.7 x"]
    at = next(e["fullUrl"] for e in json.loads(text)["entry"] if e["resource"] == binary[0])
    form = report["presentedForm"][0]
    assert form["url"] == document["content"][0]["attachment"]["url"] == at
    assert form["size"] == 10
    # The hash of an Attachment is SHA-1, FHIR R4B datatypes.
    assert base64.b64decode(form["hash"]) == hashlib.sha1(b"%PDF-1.7 x").digest()
    assert report["status"] == "preliminary"
    assert report["effectiveDateTime"] == "2026-03-04"


EDITS = (
    EditRecord(id="7", edit=SheetSet(field="vessel", value="LAD"), who="reader 3",
               when="2026-03-05T09:00:00Z", why="typing slip"),
    EditRecord(id="8", edit=Undo(edit_id="7"), who="reader 3", when="yesterday", why=""),
)  # fmt: skip


def test_provenance_names_software_recording_rules_and_every_edit(full):
    text = bundle(full, at=AT, edits=EDITS)
    made, first, second = of_kind(text, "Provenance")
    said = json.dumps(made)
    for words in ("arteriole 0.1.0", full.recording.sha256, "rules default 1", "settings"):
        assert words in said
    assert first["recorded"] == "2026-03-05T09:00:00Z"
    assert first["agent"][0]["who"]["display"] == "reader 3"
    assert first["reason"][0]["text"] == "typing slip"
    assert "SheetSet" in first["activity"]["text"]
    assert "yesterday" in second["activity"]["text"]


def test_heart_rate_and_pressures_of_each_state_have_loinc_codes(full):
    rows = of_kind(bundle(full, at=AT), "Observation")
    rates = [r for r in rows if r["code"]["coding"][0]["code"] == "8867-4"]
    assert [r["valueQuantity"]["value"] for r in rates] == [75.0, 81.0]
    assert [r["note"][0]["text"] for r in rates] == [
        "state: rest; SIMULATED", "state: hyperaemia; SIMULATED"]  # fmt: skip


REFEREE = """
const { Fhir } = require(process.argv[1]);
const text = require('fs').readFileSync(0, 'utf8');
const said = new Fhir().validate(JSON.parse(text), { errorOnUnexpected: true });
console.log(JSON.stringify(said.messages.filter(m => m.severity === 'error')));
"""


def r4_errors(text: str) -> list:
    """Ask a validator of another house, which reads the definitions of R4 itself."""
    place = os.environ.get("ARTERIOLE_FHIR", "")
    if not place or shutil.which("node") is None:
        pytest.skip("the R4 validator is not at hand; set ARTERIOLE_FHIR to its folder")
    seen = subprocess.run(["node", "-e", REFEREE, place], input=text, capture_output=True,
                          text=True, check=True)  # fmt: skip
    return json.loads(seen.stdout)


@pytest.mark.parametrize("study", ["full", "poor"])
def test_an_independent_r4_validator_finds_no_error(study, request, recording):
    result = request.getfixturevalue(study)
    text = bundle(result, at=AT, recording=recording, pdf=b"%PDF-1.7", edits=EDITS)
    assert r4_errors(text) == []


def test_the_independent_validator_does_find_errors(full):
    broken = json.loads(bundle(full, at=AT))
    broken["entry"][-1]["resource"]["nonsense"] = 1
    broken["entry"][2]["resource"]["status"] = "nonsense"
    assert len(r4_errors(json.dumps(broken))) == 2


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
