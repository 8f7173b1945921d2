"""Bytes that break a native parser cost one reading process, never the server."""

import hashlib

import numpy as np
import pytest

from arteriole.errors import UnreadableRecording
from arteriole.formats import write_recording
from arteriole.recording import Channel, Recording
from arteriole.web import apart


def sealed(path, changes=()):
    """Write a recording and forge bytes of it under a seal that still fits."""
    values = 80 + 20 * np.sin(6 * np.arange(3000) / 100)
    channels = tuple(
        Channel(name=n, unit="mmHg", rate_hz=100.0, values=values) for n in ("pa", "pd")
    )
    write_recording(Recording(name="a", sha256="0" * 64, format="csv", channels=channels), path)
    seal = b"ARTERIOLE-SHA256"
    body = bytearray(path.read_bytes()[: -len(seal) - 32])
    for place, value in changes:
        body[place] = value
    path.write_bytes(bytes(body) + seal + hashlib.sha256(body).digest())
    return path


def test_a_sound_file_survives(tmp_path):
    apart.survive(sealed(tmp_path / "a.h5"))


@pytest.mark.parametrize(
    ("program", "says"),
    [("import os; os.abort()", "breaks the library"), ("import time; time.sleep(60)", "within")],
)
def test_a_fall_and_a_hang_are_refusals(tmp_path, monkeypatch, program, says):
    monkeypatch.setattr(apart, "_PROGRAM", program)
    with pytest.raises(UnreadableRecording, match=says):
        apart.survive(sealed(tmp_path / "a.h5"), patience_s=1.5)


def test_what_is_no_native_format_starts_no_process(tmp_path, monkeypatch):
    monkeypatch.setattr(apart, "_PROGRAM", "import os; os.abort()")
    plain = tmp_path / "a.csv"
    plain.write_text("time_s,pa_mmHg\n0,80\n")
    apart.survive(plain)


def test_a_forged_file_gets_an_answer(client, tmp_path):
    # Byte 921 is in an object header: with HDF5 2.0 a forged value there ends the process.
    forged = sealed(tmp_path / "a.h5", [(921, 114)]).read_bytes()
    reply = client.post("/api/v1/studies", files={"files": ("a.h5", forged)})
    assert reply.status_code == 422
    assert "a.h5" in reply.json()["error"]
