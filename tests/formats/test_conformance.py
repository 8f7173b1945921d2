"""Every format of the registry keeps the same promises."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.errors import ChannelUnclear, UnreadableRecording
from arteriole.formats import READERS, WRITERS, read_recording, write_recording
from arteriole.recording import Channel, Recording


def made(rate_hz=200.0, size=2000):
    rng = np.random.default_rng(5)
    rows = (("pa", "mmHg", 90.0, 0.01), ("pd", "mmHg", 80.0, 0.01), ("temp", "°C", 36.8, 0.001))
    return Recording(
        name="made", sha256="", format="made", simulated=True,
        channels=tuple(
            Channel(name=n, unit=u, rate_hz=rate_hz, quantum=q,
                    values=np.round(b + rng.normal(size=size), 3 if q < 0.01 else 2))
            for n, u, b, q in rows
        ),
    )  # fmt: skip


WRITTEN = [(kind, ending) for kind in WRITERS for ending in kind.endings]


@pytest.mark.parametrize(("kind", "ending"), WRITTEN, ids=[e for _, e in WRITTEN])
def test_what_is_written_comes_back_within_half_a_quantum(kind, ending, tmp_path):
    before = made()
    path = tmp_path / f"a{ending}"
    write_recording(before, path)
    after = read_recording(path)
    assert after.format == kind.key
    assert after.simulated
    for c in before.channels:
        back = after.channel(c.name)
        assert back.unit == c.unit
        assert back.rate_hz == pytest.approx(c.rate_hz, rel=1e-9)
        assert np.abs(back.values - c.values).max() <= c.quantum / 2 + 1e-12


@pytest.mark.parametrize("kind", READERS, ids=lambda k: k.key)
@pytest.mark.parametrize("content", [b"", b"hello\nworld\n", b"\0" * 999, b"\x89HDF\r\n\x1a\n"])
def test_what_is_no_recording_is_said_to_be_none(kind, content, tmp_path):
    path = tmp_path / f"a{kind.endings[0]}"
    path.write_bytes(content)
    with pytest.raises(UnreadableRecording):
        read_recording(path)


def test_open_sessions_are_read_whole(shared):
    for path in sorted((shared / "cases").glob("*/recording.csv"))[:2]:
        assert {"pa", "pd", "temp"} <= {c.name for c in read_recording(path).channels}


def test_multi_rate_signals_keep_their_rates_and_late_starts(shared):
    found = read_recording(shared / "data" / "mixedsignals.hea")
    assert len({c.rate_hz for c in found.channels}) == 3
    assert any(f.code == "start_missing" for f in found.findings)


@pytest.mark.parametrize("text", [
    "time_s,pa_mmHg,pao_mmHg\n0,1,2\n.1,1,2\n", "time_s,p1,p2\n0,1,2\n.1,1,2\n",
])  # fmt: skip
def test_an_unclear_column_is_asked_for(text, tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(ChannelUnclear, match="--map"):
        read_recording(path)


def test_semicolons_decimal_commas_kpa_and_lost_fields_are_understood(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("\ufeff# x\ntime_s;P_ao (kPa);Pd [mmHg]\n0,0;12,0;80\n0,1;;81\n0,2;12,0;\n")
    found = read_recording(path)
    pa = found.channel("pa").values
    assert pa[0] == pytest.approx(90.0074, abs=1e-3)  # 12 kPa / 0.133322 kPa per mmHg
    assert np.isnan(pa[1])
    assert np.isnan(found.channel("pd").values[2])


def test_time_that_runs_backwards_is_an_error(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("time_s,pa_mmHg\n0,1\n.2,1\n.1,1\n")
    with pytest.raises(UnreadableRecording, match="backwards"):
        read_recording(path)


@pytest.mark.parametrize("samples", [82_352, 1_001, 997, 60_000])
def test_edf_holds_recordings_of_any_length_to_the_last_sample(tmp_path, samples):
    import edfio

    whole = made(rate_hz=200.0)
    cut = replace(whole, channels=tuple(
        replace(c, values=np.resize(c.values, samples), quantum=0.0) for c in whole.channels
    ))  # fmt: skip
    write_recording(cut, tmp_path / "a.edf", lossy=True)
    assert {s.data.size for s in edfio.read_edf(tmp_path / "a.edf").signals} == {samples}
