"""Codes agree with the dictionary of the standard; other software opens what is written."""

import re
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pydicom
import pytest
from pydicom.sr.codedict import codes
from test_conformance import made

from arteriole.errors import FormatLimit
from arteriole.formats import dicom_codes as own
from arteriole.formats import read_recording, write_recording
from arteriole.formats.dicom_out import _code, waveform
from arteriole.recording import Channel, Recording
from arteriole.recording.sheet import Sheet

RNG = np.random.default_rng(4)


def known(group: str) -> dict[str, str]:
    there = getattr(codes, group)
    return {getattr(there, n).value: getattr(there, n).scheme_designator for n in there.dir()}


def five_channels(*, relative: bool = False) -> Recording:
    """Pressures at 200 Hz with a gap, temperatures at 100 Hz, an ECG at 400 Hz."""
    t = np.arange(2000) / 200.0
    pa = 90 + 30 * np.sin(2 * np.pi * t) + RNG.normal(0, 0.2, t.size)
    pd = 0.9 * pa
    pd[300:340] = np.nan
    base = 0.0 if relative else 36.8
    rows = (
        ("pa", "mmHg", 200.0, pa, 0.0), ("pd", "mmHg", 200.0, pd, 0.0),
        ("temp", "°C", 100.0, base - np.abs(RNG.normal(0, 2, 1000)), 0.25),
        ("shaft_temp", "°C", 100.0, base - np.abs(RNG.normal(0, 6, 1000)), 0.25),
        ("ecg", "mV", 400.0, RNG.normal(0, 0.5, 4000), 0.0),
    )  # fmt: skip
    return Recording(
        name="five", sha256="ab" * 32, format="made", simulated=True,
        channels=tuple(Channel(name=n, unit=u, rate_hz=r, values=v, start_s=s)
                       for n, u, r, v, s in rows),
        sheet=Sheet(vessel="LAD", segment="mid", pa_transducer="fluid", date="2026-03-04"),
    )  # fmt: skip


def referee(path: Path) -> list[str]:
    tool = shutil.which("dciodvfy") or str(Path(sys.executable).parent / "dciodvfy")
    seen = subprocess.run([tool, str(path)], capture_output=True, text=True, check=False)
    said = (seen.stdout + seen.stderr).splitlines()
    assert any("HemodynamicWaveform" in line for line in said), said
    return [line for line in said if line.startswith("Error")]


def test_channel_codes_are_those_of_the_dictionary():
    # DICOM PS3.16 CID 3003, 3001, 3015 and 3241 as shipped with pydicom
    sources = known("CID3003") | known("CID3001")
    for value, scheme, _ in (*own.SOURCES.values(), *own.BY_UNIT.values()):
        assert sources[value] == scheme
    vessels, ways = known("CID3015"), known("CID3241")
    assert all(vessels[v] == s for v, s, _ in own.VESSELS.values())
    assert all(ways[v] == s for v, s, _ in (own.FLUID, own.TIP, own.THERMISTOR))


def test_meanings_are_those_of_the_dictionary():
    spoken = {getattr(codes.CID3015, n).meaning.lower() for n in codes.CID3015.dir()}
    assert {m.lower() for _, _, m in own.VESSELS.values()} <= spoken


@pytest.mark.parametrize("relative", [True, False])
def test_every_channel_comes_back_with_its_rate_start_and_gaps(tmp_path, relative):
    whole = five_channels(relative=relative)
    write_recording(whole, tmp_path / "a.dcm", lossy=True)
    after = read_recording(tmp_path / "a.dcm")
    assert after.simulated
    for one in whole.channels:
        two = after.channel(one.name)
        assert (two.unit, two.rate_hz, two.start_s) == (one.unit, one.rate_hz, 0.0)
        before = round(one.start_s * one.rate_hz)  # what was not recorded is lost, not moved
        assert np.isnan(two.values[:before]).all()
        two = replace(two, values=two.values[before:])
        assert np.array_equal(np.isnan(two.values), np.isnan(one.values))
        step = {"mmHg": 0.01, "°C": 0.0005, "mV": 0.001}[one.unit]
        assert np.nanmax(np.abs(two.values - one.values)) <= step / 2 + 1e-9


def test_ecg_has_a_group_of_its_own_and_pd_its_vessel(tmp_path):
    file = waveform(five_channels(), lossy=True, at=datetime(2026, 3, 5, tzinfo=UTC))
    labels = [[c.ChannelLabel for c in g.ChannelDefinitionSequence] for g in file.WaveformSequence]
    assert labels == [["pa", "pd"], ["temp", "shaft_temp"], ["ecg"]]
    pa, pd = file.WaveformSequence[0].ChannelDefinitionSequence
    assert [m.CodeValue for m in pa.ChannelSourceModifiersSequence] == [own.FLUID[0]]
    # Mid left anterior descending artery, CID 3015
    assert pd.ChannelSourceModifiersSequence[0].CodeValue == "91748002"
    assert file.WaveformSequence[2].ChannelDefinitionSequence[0].ChannelSourceSequence[
        0].CodingSchemeDesignator == "MDC"  # fmt: skip
    assert file.StudyDate == "20260304"


def test_stored_steps_are_kept_exactly(tmp_path):
    values = 0.0732421875 * np.arange(-400, 1600)  # 300 mmHg in 12 bits
    one = Channel(name="pa", unit="mmHg", rate_hz=200.0, values=values, quantum=0.0732421875)
    write_recording(replace(five_channels(), channels=(one,), sheet=None), tmp_path / "a.dcm")
    assert np.array_equal(read_recording(tmp_path / "a.dcm").channel("pa").values, values)


def test_a_channel_beyond_sixteen_bits_is_refused_never_clipped(tmp_path):
    one = Channel(name="pa", unit="mmHg", rate_hz=200.0, values=np.array([0.0, 1e5]))
    with pytest.raises(FormatLimit, match="more than 16 bits"):
        write_recording(replace(five_channels(), channels=(one,)), tmp_path / "a.dcm", lossy=True)


def test_without_a_date_the_copy_says_so():
    undated = replace(five_channels(), sheet=None)
    file = waveform(undated, lossy=True, at=datetime(2026, 3, 5, 10, tzinfo=UTC))
    assert "acquisition date not recorded" in file.SeriesDescription
    assert (file.ContentDate, file.AcquisitionDateTime) == ("20260305", "20260305100000")


@pytest.mark.parametrize("rate_hz", [200.0, 500.0, 1000.0])
def test_dciodvfy_finds_no_error_in_a_waveform(tmp_path, rate_hz):
    write_recording(made(rate_hz=rate_hz), tmp_path / "a.dcm", lossy=True)
    assert referee(tmp_path / "a.dcm") == []
    write_recording(five_channels(), tmp_path / "b.dcm", lossy=True)
    assert referee(tmp_path / "b.dcm") == []


def test_dcmtk_reads_the_waveform_and_writes_it_again(tmp_path):
    if shutil.which("dcmdump") is None or shutil.which("dcmconv") is None:
        pytest.skip("dcmtk is missing; install the package dcmtk")
    path, again = tmp_path / "a.dcm", tmp_path / "b.dcm"
    write_recording(five_channels(), path, lossy=True)
    said = subprocess.run(["dcmdump", "-q", str(path)], capture_output=True, text=True, check=True)
    assert not said.stderr, said.stderr
    assert re.search(r"ChannelLabel.*\n", said.stdout)
    for words in ("HemodynamicWaveformStorage", "[shaft_temp]", "[91748002]", "[mm[Hg]]"):
        assert words in said.stdout
    # Written anew in the other byte order and back: what we read is what the standard says.
    for source, target, order in ((path, again, "+tb"), (again, path, "+ti")):
        subprocess.run(["dcmconv", order, str(source), str(target)], check=True)
    two = read_recording(path)
    for one in five_channels().channels:
        assert two.channel(one.name).values.size == one.values.size + one.start_s * one.rate_hz


def foreign(label, unit, raw, *, bits=16, signed=True, **more):
    """One multiplex group as another house writes it: its own words, scale and sample kind."""
    from pydicom.dataset import Dataset

    made, row = Dataset(), Dataset()
    row.ChannelLabel = label
    row.ChannelSourceSequence = [_code(more.get("source", own.BY_UNIT["mmHg"]))]
    row.ChannelSensitivity, row.ChannelSensitivityCorrectionFactor = "0.1", "1.5"
    row.ChannelBaseline = "5"
    row.ChannelSensitivityUnitsSequence = [_code(unit)]
    row.WaveformBitsStored = bits
    if "skew" in more:
        row.ChannelSampleSkew = str(more["skew"])
    if "seconds" in more:
        row.ChannelTimeSkew = str(more["seconds"])
    made.MultiplexGroupTimeOffset = str(more.get("offset_ms", 0))
    made.WaveformOriginality = "ORIGINAL"
    made.NumberOfWaveformChannels, made.NumberOfWaveformSamples = 1, len(raw)
    made.SamplingFrequency = "100"
    made.ChannelDefinitionSequence = [row]
    made.WaveformBitsAllocated = bits
    made.WaveformSampleInterpretation = {8: "SB", 16: "SS", 32: "SL"}[bits] if signed else "US"
    kind = f"<{'i' if signed else 'u'}{bits // 8}"
    made.add_new(0x54001010, "OW", np.asarray(raw, kind).tobytes())
    return made


def test_sensitivities_baselines_skews_and_groups_of_other_houses_are_read(tmp_path):
    file = waveform(five_channels(), lossy=True)
    file.WaveformSequence = [
        foreign("Ao", ("mm[Hg]", "UCUM", "mmHg"), [0, 100, -100, 50], offset_ms=250),
        foreign("Pd", ("mm[Hg]", "UCUM", "mmHg"), [0, 70_000, 1, 2], bits=32, skew=5),
        foreign("T dist", ("Cel", "UCUM", "degrees C"), [0, 10, 20, 65_535], signed=False,
                seconds=0.5, source=own.SOURCES["temp"]),
    ]  # fmt: skip
    file.save_as(tmp_path / "a.dcm", enforce_file_format=True)
    read = read_recording(tmp_path / "a.dcm")
    # PS3.3 C.10.9: value = stored * sensitivity * correction + baseline
    assert read.channel("pa").values.tolist() == pytest.approx([5.0, 20.0, -10.0, 12.5])
    assert read.channel("pa").start_s == 0.25
    assert read.channel("pa").quantum == pytest.approx(0.15)
    assert read.channel("pd").values[1] == pytest.approx(70_000 * 0.15 + 5)
    assert read.channel("pd").start_s == pytest.approx(0.05)
    assert read.channel("temp").values[3] == pytest.approx(65_535 * 0.15 + 5)
    assert read.channel("temp").start_s == 0.5


def labelled(label: str, source: own.Triple, modifiers=(), unit: str = "mmHg") -> pydicom.Dataset:
    file = waveform(five_channels(), lossy=True)
    row = file.WaveformSequence[0].ChannelDefinitionSequence[1]
    row.ChannelLabel = label
    row.ChannelSourceSequence = [_code(source)]
    row.ChannelSourceModifiersSequence = [_code(m) for m in modifiers]
    return file


@pytest.mark.parametrize(
    ("label", "modifiers", "name"),
    [("Ch 2", (own.VESSELS["rca"],), "pd"), ("Ch 2", (), "Ch 2"), ("ART", (), "ART")],
)
def test_an_arterial_pressure_is_pd_only_in_a_coronary_vessel(tmp_path, label, modifiers, name):
    file = labelled(label, own.SOURCES["pd"], modifiers)
    file.save_as(tmp_path / "a.dcm", enforce_file_format=True)
    assert name in read_recording(tmp_path / "a.dcm")


def test_500_hz_is_refused_and_derived_when_allowed(tmp_path):
    path = tmp_path / "a.dcm"
    with pytest.raises(FormatLimit, match="400"):
        write_recording(made(rate_hz=500.0), path)
    write_recording(made(rate_hz=500.0), path, lossy=True)
    file = pydicom.dcmread(path)
    assert file.WaveformSequence[0].WaveformOriginality == "DERIVED"
    assert "resampled to 250 Hz" in file.SeriesDescription
    assert "SIMULATED" in file.SeriesDescription
    assert read_recording(path).channel("pa").rate_hz == 250.0
    assert np.isfinite(read_recording(path).channel("pa").values).all()
