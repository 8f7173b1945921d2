"""What leaves a study by the web is what the command line and the bag give."""

import io
import json
import zipfile

import bagit
import pydicom
import pypdf
import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole import CAUTION, simulate
from arteriole.exchange.bag import read_bag
from arteriole.exchange.keep import kept
from arteriole.exchange.restore import restored
from arteriole.store import open_store
from arteriole.web import open_demo
from arteriole.web.exports import GROUPS, KINDS


@pytest.fixture(scope="module")
def site():
    from conftest import served

    session = simulate.session("mixed", 31, rate_hz=200)
    with served(open_demo(session.recording, session.sheet, session.truth)) as one:
        yield one


@pytest.fixture(scope="module")
def caller(site):
    with site.client() as one:
        yield one


@pytest.fixture(scope="module")
def src(site):
    return f"/api/v1/studies/{site.store.studies()[0].id}"


def test_every_export_is_listed_offered_and_comes(caller, src):
    listed = caller.get(f"{src}/exports").json()
    assert listed["caution"] == CAUTION
    assert [e["name"] for e in listed["exports"]] == list(KINDS)
    page = caller.get(f"{src.replace('/api/v1', '')}/letter").text
    for names in (n for _, n in GROUPS):
        for name in names:
            assert f"/exports/{name}" in page
    for one in listed["exports"]:
        reply = caller.get(one["href"])
        assert reply.status_code == 200, (one, reply.text[:300])
        assert reply.headers["content-type"].split(";")[0] == one["media_type"].split(";")[0]
        assert "attachment" in reply.headers["content-disposition"]
        assert "SIMULATED" in reply.headers["content-disposition"]
        assert reply.headers["cache-control"] == "no-store"
        assert len(reply.content) > 500


def test_letter_is_two_pages_of_the_paper_that_was_asked_for(caller, src):
    pages = pypdf.PdfReader(
        io.BytesIO(caller.get(f"{src}/exports/letter.pdf?paper=letter").content)
    )
    assert len(pages.pages) == 2
    assert round(pages.pages[0].mediabox.height) == 792
    german = caller.get(f"{src}/exports/letter.txt?template=de").text
    assert "Messwerte" in german


def test_standards_are_accepted(caller, src):
    assert Bundle.model_validate_json(caller.get(f"{src}/exports/fhir.json").text).entry
    for name, modality in (("report", "SR"), ("letter", "DOC"), ("waveform", "HD")):
        content = caller.get(f"{src}/exports/{name}.dcm").content
        assert pydicom.dcmread(io.BytesIO(content)).Modality == modality


def test_bag_after_edits_and_undo_gives_the_bytes_of_the_result(caller, src, tmp_path):
    for edit in ({"kind": "SheetSet", "field": "operator", "value": "reader 3"},
                 {"kind": "SettingsSet", "name": "cfr_line", "value": 2.5}):  # fmt: skip
        caller.post(f"{src}/edits", json={"edit": edit, "why": "test"}).raise_for_status()
    caller.post(f"{src}/undo", json={"why": "test"}).raise_for_status()
    now = caller.get(f"{src}/result").content
    with zipfile.ZipFile(io.BytesIO(caller.get(f"{src}/exports/case-bag.zip").content)) as box:
        box.extractall(tmp_path)
    bagit.Bag(str(tmp_path / "case-bag")).validate()
    bag = read_bag(tmp_path / "case-bag")
    assert bag.result == now
    assert len(bag.edits) == 3
    assert restored(bag).difference == ""
    store = open_store(str(tmp_path / "other" / "s.db"))
    one = kept(bag, store, who="ab")
    assert one.difference == ""  # undos point to the lines as the other store knows them
    assert [e.who for e in store.edits(one.row.id)] == [e.who for e in bag.edits]
    assert all("in the bag" in e.why for e in store.edits(one.row.id))
    store.close()
    sources = [r for e in json.loads(caller.get(f"{src}/exports/fhir.json").text)["entry"]
               if (r := e["resource"])["resourceType"] == "Provenance"]  # fmt: skip
    assert len(sources) == 1 + 3


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("exports/nothing.zip", 404, "there are: letter.pdf"),
        ("exports/letter.pdf?paper=a3", 400, "allowed: a4, letter"),
        ("exports/letter.pdf?template=fr", 400, "named ones are: de"),
    ],
)
def test_what_there_is_not_is_said_with_what_there_is(caller, src, address, status, said):
    reply = caller.get(f"{src}/{address}")
    assert reply.status_code == status
    assert said in reply.json()["error"]
