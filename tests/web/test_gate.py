"""The gate lets in who holds a key, and only changes made by our own pages."""

import json

import httpx
import pytest

from arteriole.web.guard import MOST_UPLOAD_BYTES, Keys


def test_without_a_key_nothing_is_shown(site, study):
    for path in ("/", f"/studies/{study.id}", f"/api/v1/studies/{study.id}/result"):
        reply = httpx.get(site.url + path)
        assert reply.status_code == 401
        assert "Open the address that arteriole serve prints" in reply.text


def test_an_opening_key_opens_once(site):
    address = site.opening()
    assert httpx.get(address).status_code == 303
    again = httpx.get(address)
    assert again.status_code == 403
    assert "each opens once" in again.text


@pytest.mark.parametrize("target", ["https://elsewhere.example", "//elsewhere.example", "/\\x"])
def test_the_opening_address_leads_nowhere_else(site, target):
    reply = httpx.get(site.opening(target))

    assert reply.headers["location"] == "/"


def test_the_session_is_out_of_reach_of_scripts_and_other_sites(site):
    cookie = httpx.get(site.opening()).headers["set-cookie"]

    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_a_forged_or_foreign_session_is_refused(site):
    foreign = Keys().sign("ab")
    for session in (foreign, foreign[:-2] + "AA", "x.y", "", "a.b.c"):
        reply = httpx.get(site.url, cookies={"arteriole": session})
        assert reply.status_code == 401


def test_an_old_session_has_ended(monkeypatch):
    keys = Keys()
    session = keys.sign("ab")
    assert keys.reader_of(session) == "ab"
    monkeypatch.setattr("arteriole.web.guard.time.time", lambda: 4e9)
    assert keys.reader_of(session) is None


@pytest.mark.parametrize("headers", [
    {}, {"x-arteriole": "1", "origin": "https://elsewhere.example"},
    {"x-arteriole": "1", "sec-fetch-site": "cross-site"}, {"x-arteriole": "1", "origin": "null"},
])  # fmt: skip
def test_a_change_from_another_page_is_refused(client, study, headers):
    client.headers.pop("x-arteriole")
    reply = client.post(f"/api/v1/studies/{study.id}/undo", json={}, headers=headers)

    assert reply.status_code == 403
    assert "only arteriole's own pages" in reply.json()["error"]


def test_another_host_name_is_refused(client):
    assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 400


@pytest.mark.parametrize("path", ["/", "/api/v1/studies", "/static/look.css", "/nowhere"])
def test_every_answer_carries_the_strict_headers(client, path):
    headers = client.get(path).headers

    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py"]
)
def test_only_static_files_are_served_as_files(client, path):
    reply = client.get(path)

    assert reply.status_code == 404
    assert "create_app" not in reply.text


def test_an_upload_beyond_the_limit_is_answered_not_cut_off(client):
    def body():
        for _ in range(200):
            yield b"\0" * 1_000_000

    reply = client.post(
        "/api/v1/studies", content=body(),
        headers={"content-length": "200000000", "content-type": "multipart/form-data; boundary=x"},
    )  # fmt: skip
    assert reply.status_code == 413
    assert f"at most {MOST_UPLOAD_BYTES // 10**6} MB" in reply.json()["error"]


def test_the_reader_is_written_beside_the_edit(client, study):
    client.put("/api/v1/reader", json={"name": "  M. \n C.<b> "})
    client.post(f"/api/v1/studies/{study.id}/edits",
                json={"edit": {"kind": "SheetSet", "field": "vessel", "value": "RCA"}})  # fmt: skip
    line = client.get(f"/api/v1/studies/{study.id}/ledger").json()["lines"][-1]

    assert line["who"] == "M. C.<b>"
    assert "C.<b>" not in client.get(f"/studies/{study.id}/ledger").text
    assert json.dumps(line)
