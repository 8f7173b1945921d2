"""Bad uploads get a clear message and leave no file behind."""

import io
import json
import tempfile
import zipfile

import pytest


@pytest.fixture
def quiet(tmp_path, monkeypatch):
    """Where imports are drafted; empty again after every request."""
    place = tmp_path / "drafts"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    return place


def send(client, name, body, **fields):
    return client.post("/api/v1/studies", files={"files": (name, body)}, data=fields)


def bomb():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr("a.csv", b"0" * 50_000_000)
    return out.getvalue()


BAD = {
    "empty": ("a.csv", b"", "has 0 bytes"),
    "zeros": ("a.csv", b"\0" * 30_000_000, "zero bytes"),
    "zip bomb": ("a.csv", bomb(), "packed (zip)"),
    "gzip": ("a.csv.gz", b"\x1f\x8b\x08\0\0\0", "packed (gzip)"),
    "picture": ("a.png", b"\x89PNG\r\n\x1a\n", "a picture"),
    "document": ("a.pdf", b"%PDF-1.7", "a PDF document"),
    "program": ("a.exe", b"MZ\x90\0", "a program"),
    "web page": ("a.csv", b"<!DOCTYPE html>", "a web page"),
    "hidden": (".bashrc", b"{}", "holds a path"),
    "long name": ("a" * 300 + ".csv", b"{}", "at most 120"),
    "not a recording": ("a.csv", b"hello", "is not a recording"),
}


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_upload_is_named_and_leaves_nothing(client, site, tmp_path, quiet, kind):
    name, body, says = BAD[kind]
    reply = send(client, name, body)

    assert reply.status_code == 422
    assert says in reply.json()["error"]
    assert str(quiet) not in reply.text
    assert list(quiet.iterdir()) == []
    assert [p for p in (tmp_path / "kept" / "recordings").rglob("*") if p.is_file()] == []
    assert site.store.studies() == ()


@pytest.mark.parametrize("name", ["../../etc/passwd.csv", "..\\..\\x.csv", "/etc/x.csv", "a\0b.csv",
                                  "C:\\x.csv", "..", "a/b.csv"])  # fmt: skip
def test_a_path_in_a_name_is_refused(client, quiet, tmp_path, name):
    # Built by hand: a client library would tidy the name first.
    raw = (b'--x\r\nContent-Disposition: form-data; name="files"; filename="'
           + name.encode() + b'"\r\n\r\n{}\r\n--x--\r\n')  # fmt: skip
    reply = client.post("/api/v1/studies", content=raw,
                        headers={"content-type": "multipart/form-data; boundary=x"})  # fmt: skip

    assert reply.status_code in {400, 422}
    assert reply.json()["error"]
    assert list(quiet.iterdir()) == []
    assert not any(p.suffix == ".csv" for p in tmp_path.rglob("*"))


def test_a_good_upload_becomes_a_study_that_opens(client, site, quiet):
    reply = send(client, "fine.csv", json.dumps({"duration_s": 390.0, "rate_hz": 100.0}).encode(),
                 sheet=json.dumps({"case_id": "c1", "vessel": "LAD"}))  # fmt: skip
    row = reply.json()

    assert reply.status_code == 201
    assert row["title"] == "c1"
    assert client.get(f"/studies/{row['id']}").status_code == 200
    assert site.store.main_file(row["id"]).name == "fine.csv"
    assert list(quiet.iterdir()) == []


def test_unclear_columns_come_back_with_a_preview_and_are_read_once_named(client):
    body = b"a;b;c\n1;2;3\n4;5;6\n"
    reply = send(client, "odd.csv", body)
    assert reply.status_code == 422
    assert reply.json()["preview"][0] == ["a", "b", "c"]

    named = send(client, "odd.csv", body, column_map=json.dumps({"pa": "a", "pd": "b"}))
    assert named.status_code == 201


@pytest.mark.parametrize(("fields", "says"), [
    ({"sheet": "{"}, "JSON is needed"), ({"sheet": '{"vesel": "LAD"}'}, "vesel"),
    ({"column_map": "x"}, "JSON is needed"),
])  # fmt: skip
def test_bad_fields_beside_the_file_are_named(client, fields, says):
    reply = send(client, "a.csv", json.dumps({"duration_s": 60.0, "rate_hz": 100.0}), **fields)

    assert reply.status_code == 400
    assert says in reply.json()["error"]


def test_nothing_at_all_is_answered(client):
    assert "0 files" in client.post("/api/v1/studies", files={"x": b""}).json()["error"]


def test_the_same_name_twice_is_refused(client):
    files = [("files", ("a.csv", b'{"a":1}')), ("files", ("a.csv", b'{"a":2}'))]

    assert "needs its own name" in client.post("/api/v1/studies", files=files).json()["error"]


def test_drafts_go_even_when_reading_breaks(client, site, quiet, monkeypatch):
    desk = site.app.state.desk

    def broken(*_):
        raise RuntimeError("disk on fire")

    monkeypatch.setattr(desk, "conductor", _swap(desk.conductor, read=broken))
    reply = send(client, "a.csv", b"{}")
    assert reply.status_code == 422
    assert "'a.csv' could not be read (RuntimeError)" in reply.json()["error"]
    assert list(quiet.iterdir()) == []


def _swap(one, **changes):
    from dataclasses import replace

    return replace(one, **changes)


def test_a_sheet_dropped_beside_the_recording_is_its_sheet(client):
    files = [
        ("files", ("case.sheet.json", b'{"case_id": "c7", "vessel": "CX"}')),
        ("files", ("case.csv", json.dumps({"duration_s": 390.0, "rate_hz": 100.0}).encode())),
    ]
    row = client.post("/api/v1/studies", files=files).json()

    assert row["title"] == "c7"
    assert [r["name"] for r in row["recordings"]] == ["case.csv"]


def test_a_bad_sheet_beside_the_recording_is_named_and_nothing_kept(client, site, quiet):
    files = [("files", ("s.json", b'{"vesel": 1}')), ("files", ("case.csv", b"{}"))]
    reply = client.post("/api/v1/studies", files=files)

    assert reply.status_code == 400
    assert "vesel" in reply.json()["error"]
    assert list(quiet.iterdir()) == []
    assert site.store.studies() == ()


def test_a_further_run_lengthens_the_study_and_is_measured_anew(client, study):
    before = client.get(f"/api/v1/studies/{study.id}/result").json()["recording"]["duration_s"]
    body = json.dumps({"duration_s": 391.0, "rate_hz": 250.0})
    url = f"/api/v1/studies/{study.id}/recordings"
    assert client.post(url, files={"files": ("run2.csv", body)}).status_code == 201
    document = client.get(f"/api/v1/studies/{study.id}/result").json()

    assert document["recording"]["duration_s"] == before + 391.0 + 10.0
    again = client.post(url, files={"files": ("run2.csv", body)})
    assert again.status_code == 400
    assert "already" in again.json()["error"]
