"""The JSON twin says what the pages say; edits are kept, undone, redone; bad ones refused."""

import json

import pytest
from jsonschema import validate

from arteriole import CAUTION
from arteriole.document import shipped_schema


def edits(client, study):
    def send(edit, why=""):
        return client.post(f"/api/v1/studies/{study.id}/edits", json={"edit": edit, "why": why})

    return send


def result(client, study):
    return client.get(f"/api/v1/studies/{study.id}/result").content


MIXED = (
    {"kind": "MarkSet", "id": "rest@80.0",
     "mark": {"kind": "rest", "start_s": 82.0, "end_s": 99.0}},
    {"kind": "MarkSet", "id": "injection@152.0",
     "mark": {"kind": "injection", "time_s": 152.0, "verdict": "left out", "why": "cough"}},
    {"kind": "SheetSet", "field": "vessel", "value": "RCA"},
    {"kind": "SheetSet", "field": "hyperaemia", "value": {"agent": "adenosine", "start_s": 196.0}},
    {"kind": "SheetSet", "field": "spasm_test",
     "value": [{"agent": "acetylcholine", "dose_ug": 20.0, "symptoms": "usual"}]},
    {"kind": "SettingsSet", "name": "cfr_line", "value": 2.5},
    {"kind": "MarkRemoved", "id": "rest@80.0"},
    {"kind": "SheetSet", "field": "vessel", "value": None},
)  # fmt: skip


def test_undo_of_fifty_mixed_edits_gives_the_same_bytes(client, study):
    send, before = edits(client, study), result(client, study)
    made = 0
    while made < 50:
        edit = MIXED[made % len(MIXED)]
        if edit["kind"] == "MarkSet" and edit["mark"]["kind"] == "rest":
            edit = edit | {"mark": edit["mark"] | {"start_s": 82.0 + made / 10}}
        assert send(edit).status_code == 201
        made += 1
    after = result(client, study)
    assert after != before
    for _ in range(50):
        assert client.post(f"/api/v1/studies/{study.id}/undo", json={}).status_code == 201
    assert result(client, study) == before
    for _ in range(50):
        assert client.post(f"/api/v1/studies/{study.id}/redo", json={}).status_code == 201
    assert result(client, study) == after
    assert client.post(f"/api/v1/studies/{study.id}/redo", json={}).status_code == 400


def test_an_edit_is_kept_with_who_when_old_new_and_why(client, study):
    edits(client, study)({"kind": "SheetSet", "field": "vessel", "value": "RCA"}, "wrong vessel")
    line = client.get(f"/api/v1/studies/{study.id}/ledger").json()["lines"][-1]

    assert line["who"] == "reader on this computer"
    assert line["at"].endswith("+00:00")
    assert line["content"] == {
        "edit": {"kind": "SheetSet", "field": "vessel", "value": "RCA"},
        "why": "wrong vessel", "old": "LAD",
    }  # fmt: skip


def test_any_edit_can_be_taken_back_from_the_ledger_and_brought_back(client, study):
    send = edits(client, study)
    first = send({"kind": "SheetSet", "field": "vessel", "value": "RCA"}).json()["id"]
    send({"kind": "SheetSet", "field": "segment", "value": "distal"})
    undo = send({"kind": "Undo", "edit_id": first}).json()
    sheet = json.loads(result(client, study))["sheet"]
    assert (sheet["vessel"], sheet["segment"]) == ("LAD", "distal")
    assert undo["old"] == {"kind": "SheetSet", "field": "vessel", "value": "RCA"}
    send({"kind": "Undo", "edit_id": undo["id"]})
    assert json.loads(result(client, study))["sheet"]["vessel"] == "RCA"


@pytest.mark.parametrize(("edit", "says"), [
    ({"kind": "SheetSet", "field": "vesel", "value": "LAD"}, "vesel"),
    ({"kind": "SheetSet", "field": "cvp_mmhg", "value": "high"}, "cvp_mmhg"),
    ({"kind": "SettingsSet", "name": "cfr_line", "value": -1}, "cfr_line"),
    ({"kind": "MarkRemoved", "id": "rest@1.0"}, "does not stand"),
    ({"kind": "Undo", "edit_id": "nowhere"}, "not in this study's ledger"),
    ({"kind": "Erase"}, "allowed: MarkSet"),
    ({}, "allowed: MarkSet"),
])  # fmt: skip
def test_an_edit_that_cannot_be_used_is_not_written(client, study, edit, says):
    before = client.get(f"/api/v1/studies/{study.id}/ledger").json()["head"]
    reply = edits(client, study)(edit)

    assert reply.status_code in {400, 422}
    assert says in reply.json()["error"]
    assert client.get(f"/api/v1/studies/{study.id}/ledger").json()["head"] == before


def test_a_stretch_moved_twice_is_one_mark(client, study):
    send = edits(client, study)
    for start in (82.0, 84.0, 86.0):
        view = client.get(f"/api/v1/studies/{study.id}/view").json()
        rest = next(s for s in view["spans"] if s["kind"] == "rest")
        send({"kind": "MarkSet", "id": rest["id"],
              "mark": {"kind": "rest", "start_s": start, "end_s": 100.0}})  # fmt: skip
    view = client.get(f"/api/v1/studies/{study.id}/view").json()
    rests = [s for s in view["spans"] if s["kind"] == "rest"]

    assert [(s["start_s"], s["source"], s["id"]) for s in rests] == [(86.0, "marked", "rest@80.0")]
    send({"kind": "MarkRemoved", "id": "rest@80.0"})
    view = client.get(f"/api/v1/studies/{study.id}/view").json()
    assert next(s for s in view["spans"] if s["kind"] == "rest")["start_s"] == 80.0


def test_an_injection_is_left_out_and_brought_back_on_one_mark(client, study):
    send = edits(client, study)
    for verdict in ("left out", "usable"):
        view = client.get(f"/api/v1/studies/{study.id}/view").json()
        one = next(n for n in view["notches"] if n["label"] == "R2")
        send({"kind": "MarkSet", "id": one["id"],
              "mark": {"kind": "injection", "time_s": one["time_s"],
                       "verdict": verdict}})  # fmt: skip
    document = json.loads(result(client, study))
    assert [i["verdict"] for i in document["injections"] if i["label"] == "R2"] == ["usable"]
    assert len(client.get(f"/api/v1/studies/{study.id}/view").json()["notches"]) == 6


def test_the_result_is_the_document_of_the_contract(client, study):
    document = json.loads(result(client, study))

    validate(document, shipped_schema())
    assert document["schema"] == "arteriole.result/1"
    assert document["simulated"] is True


def test_every_page_has_a_twin_with_the_same_values(client, study):
    document = json.loads(result(client, study))
    bench = client.get(f"/studies/{study.id}").text
    for index in document["indices"]:
        if index["value"] is not None:
            assert f"{index['value']:.2f}" in bench
        part = client.get(f"/api/v1/studies/{study.id}/working/{index['key']}").json()
        assert part["index"] == index
    assert document["statement"]["sentence"] in bench
    shelf = client.get("/api/v1/studies").json()["studies"]
    assert [s["id"] for s in shelf] == [study.id]
    same = client.get("/api/v1/compare", params={"a": study.id, "b": study.id}).json()["indices"]
    assert {row["said"] for row in same if row["difference"] == 0} == {"within retest noise"}


def test_the_twin_is_described(client):
    described = client.get("/api/v1/openapi.json").json()

    assert {"/api/v1/studies", "/api/v1/studies/{study_id}/result",
            "/api/v1/studies/{study_id}/edits", "/api/v1/studies/{study_id}/ledger",
            "/api/v1/studies/{study_id}/working/{key}", "/api/v1/compare",
            } <= set(described["paths"])  # fmt: skip
    assert all("/docs" not in path for path in described["paths"])


@pytest.mark.parametrize("path", ["/", "/studies/{id}", "/studies/{id}/ledger", "/compare",
                                  "/studies/{id}/working/ffr", "/nowhere",
                                  "/compare?a={id}&b={id}"])  # fmt: skip
def test_the_caution_stands_on_every_page(client, study, path):
    text = client.get(path.format(id=study.id)).text

    assert CAUTION in text
    assert text.startswith("<!doctype html>")


@pytest.mark.parametrize("path", ["/", "/studies/{id}", "/studies/{id}/ledger",
                                  "/studies/{id}/working/ffr",
                                  "/compare?a={id}&b={id}"])  # fmt: skip
def test_simulated_stands_on_every_page_of_simulated_signals(client, study, path):
    assert "SIMULATED" in client.get(path.format(id=study.id)).text


def test_pages_hold_no_inline_script_style_or_handler(client, study):
    import re

    for path in ("/", f"/studies/{study.id}", f"/studies/{study.id}/ledger", "/compare"):
        text = client.get(path).text
        assert not re.search(r"<script(?![^>]*\bsrc=)", text)
        assert " style=" not in text
        assert "<style" not in text
        assert not re.search(r"\son[a-z]+=", text)
        assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
        assert "https://" not in text


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>',
                                  "\u202eevil", "x" * 300, "{{7*7}}", "a\u0000b"])  # fmt: skip
def test_hostile_text_is_shown_as_text(client, study, text):
    edits(client, study)({"kind": "SheetSet", "field": "free_text", "value": text}, text[:200])
    for path in (f"/studies/{study.id}", f"/studies/{study.id}/ledger"):
        page = client.get(path).text
        assert "<script>alert" not in page
        assert "<img src=x" not in page


def test_search_and_states(client, study):
    assert client.get("/api/v1/studies", params={"q": "nothing"}).json()["studies"] == []
    reply = client.put(f"/api/v1/studies/{study.id}/state", json={"state": "complete"})
    assert reply.json()["state"] == "complete"
    assert (
        client.put(f"/api/v1/studies/{study.id}/state", json={"state": "signed"}).status_code == 400
    )
    assert len(client.get("/api/v1/studies", params={"q": "complete"}).json()["studies"]) == 1


@pytest.mark.parametrize(("path", "status"), [
    ("/api/v1/studies/nowhere", 404), ("/api/v1/studies/nowhere/result", 404),
    ("/api/v1/studies/{id}/working/nonsense", 404), ("/api/v1/studies/{id}/traces?n=0", 400),
    ("/api/v1/studies/{id}/traces?t0=x", 400), ("/api/v1/compare?a={id}", 400),
    ("/api/v1/compare?a={id}&b=nowhere", 404), ("/api/v1/nowhere", 404),
])  # fmt: skip
def test_every_refusal_is_json_with_an_error(client, study, path, status):
    reply = client.get(path.format(id=study.id))

    assert reply.status_code == status
    assert reply.json()["error"]


def test_traces_come_with_every_channel_and_gaps_stay_gaps(client, study):
    import struct

    import numpy as np

    wire = client.get(f"/api/v1/studies/{study.id}/traces",
                      params={"t0": 330, "t1": 336, "n": 4000}).content  # fmt: skip
    count = struct.unpack("<I", wire[:4])[0]
    sizes = [struct.unpack("<ddII", wire[8 + 24 * k : 32 + 24 * k])[2] for k in range(count)]
    pd = np.frombuffer(wire[8 + 24 * count + 4 * sizes[0] :], "<f4", sizes[1])

    assert count == 3
    assert np.isnan(pd).sum() == 750


def test_a_page_in_german_speaks_german_and_keeps_every_number(client, study):
    english = client.get(f"/studies/{study.id}").text
    client.cookies.set("language", "de")
    german = client.get(f"/studies/{study.id}").text

    assert '<html lang="de"' in german
    assert "Injektionsreihe" in german
    assert "Kein Medizinprodukt" in german
    for row in json.loads(result(client, study))["indices"]:
        if row["value"] is not None:
            shown = f"{row['value']:.2f}"
            assert german.count(shown) == english.count(shown)


def test_both_catalogues_hold_the_same_keys_and_fields():
    import string

    from arteriole.web.texts import LANGUAGES

    def holes(text):
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    english, german = LANGUAGES["en"], LANGUAGES["de"]
    assert set(english) == set(german)
    assert {k for k in english if holes(english[k]) != holes(german[k])} == set()


def test_every_text_that_pages_ask_for_is_in_the_catalogue():
    import re
    from pathlib import Path

    from arteriole.web.texts import LANGUAGES

    rooms = Path(__file__).parents[2] / "src" / "arteriole" / "web"
    asked = {
        key
        for path in rooms.glob("*.py")
        for key in re.findall(r'\bt\("([a-z_.]+)"[,)]', path.read_text("utf-8"))
    }
    assert asked - set(LANGUAGES["en"]) == set()


def test_every_field_of_the_sheet_has_a_word_in_every_language():
    from dataclasses import fields

    from arteriole.recording import sheet
    from arteriole.web.sheet_form import NOT_ON_FORM, OFFERED
    from arteriole.web.texts import LANGUAGES

    parts = (sheet.Sheet, sheet.Hyperaemia, sheet.Continuous, sheet.Pullback, sheet.Nitrate,
             sheet.Guide, sheet.SpasmStep)  # fmt: skip
    names = {f.name for part in parts for f in fields(part)} - NOT_ON_FORM | set(OFFERED)
    for texts in LANGUAGES.values():
        assert {n for n in names if f"field.{n}" not in texts} == set()
