"""Codes agree with the dictionary of the standard; rates above the limit become derived copies."""

import numpy as np
import pydicom
import pytest
from pydicom.sr.codedict import codes
from test_conformance import made

from arteriole.errors import FormatLimit
from arteriole.formats import read_recording, write_recording
from arteriole.formats.dicom import SOURCES


def test_channel_sources_are_in_the_dictionary():
    # DICOM PS3.16 CID 3003 as shipped with pydicom
    known = {c.value for c in (getattr(codes.CID3003, n) for n in codes.CID3003.dir())}
    assert {code for code, _ in SOURCES.values()} <= known


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
