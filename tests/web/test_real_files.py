"""Real readers behind the import: what is no recording is named, what is one is kept whole."""

import io
import os
from pathlib import Path

import pytest

from arteriole.errors import ArterioleError
from arteriole.formats import read_recording, write_recording
from arteriole.simulate import session
from arteriole.store import open_store
from arteriole.web.conductor import own_conductor
from arteriole.web.intake import take_in

CASES = Path(__file__).parents[3] / "shared" / "cases"


@pytest.fixture
def store(tmp_path):
    one = open_store(str(tmp_path / "s.db"))
    yield one
    one.close()


@pytest.fixture(scope="module")
def simulated():
    return session("structural", 11, rate_hz=200.0)


def put(store, *files, **more):
    uploads = [(name, io.BytesIO(body)) for name, body in files]
    return take_in(store, own_conductor(), uploads, who="ab", **more)


def hdf5(simulated, tmp_path):
    path = tmp_path / "w.h5"
    write_recording(simulated.recording, path)
    return path.read_bytes()


HOSTILE = {
    "noise.csv": os.urandom(20_000),
    "noise.edf": b"0       " + os.urandom(5000),
    "noise.h5": b"\x89HDF\r\n\x1a\n" + os.urandom(5000),
    "noise.dcm": b"\0" * 127 + b"\x01DICM" + os.urandom(500),
    "words.csv": b"once upon a time\nthere was a line\n",
    "header.csv": b"time_s,pa_mmHg,pd_mmHg\n",
    "one.csv": b"time_s,pa_mmHg\n0,x\n",
    "odd.hea": b"../../etc/passwd 1 250 10\n../../../etc/passwd 16 200 12 0 0 0 0 pa\n",
    "deep.json": b"[" * 100_000,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_recording_is_named_and_not_kept(store, tmp_path, name):
    with pytest.raises(ArterioleError) as fault:
        put(store, (name, HOSTILE[name]))

    assert "arteriole-import-" not in str(fault.value)
    assert "root:" not in str(fault.value)
    assert store.studies() == ()
    assert [p for p in (tmp_path / "recordings").rglob("*") if p.is_file()] == []


@pytest.mark.parametrize("cut", [9, 100, 5000])
def test_a_torn_container_is_named(store, simulated, tmp_path, cut):
    with pytest.raises(ArterioleError):
        put(store, ("a.h5", hdf5(simulated, tmp_path)[:-cut]))
    assert store.studies() == ()


def test_a_container_comes_back_sample_for_sample(store, simulated, tmp_path):
    body = hdf5(simulated, tmp_path)
    row = put(store, ("case.h5", body))
    again = read_recording(store.main_file(row.id))

    assert store.main_file(row.id).read_bytes() == body
    for one, two in zip(simulated.recording.channels, again.channels, strict=True):
        assert one.values.tobytes() == two.values.tobytes()
    assert row.simulated


@pytest.mark.skipif(not CASES.is_dir(), reason="the open sessions are not beside the repository")
def test_an_open_session_is_taken_in_with_its_sheet(store):
    folder = CASES / "session-01"
    row = put(store, *((f, (folder / f).read_bytes()) for f in ("recording.csv", "sheet.json")))

    assert {"pa", "pd", "temp"} <= {c["name"] for c in row.recordings[0].channels}
    assert row.sheet
