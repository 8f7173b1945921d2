import io
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pydicom
import pytest
from pydicom.sr.codedict import codes

from arteriole.exchange import codes as own
from arteriole.exchange.dicom import encapsulated_pdf, structured_report

PDF = b"%PDF-1.7\n%odd length here\n%%EOF"


def referee(content: bytes, folder: Path) -> str:
    tool = shutil.which("dciodvfy") or str(Path(sys.executable).parent / "dciodvfy")
    path = folder / "x.dcm"
    path.write_bytes(content)
    seen = subprocess.run([tool, str(path)], capture_output=True, text=True, check=False)
    return seen.stdout + seen.stderr


@pytest.mark.parametrize("which", ["report", "letter"])
@pytest.mark.parametrize("study", ["full", "poor"])
def test_dciodvfy_finds_no_error(which, study, tmp_path, request):
    result = request.getfixturevalue(study)
    content = structured_report(result) if which == "report" else encapsulated_pdf(result, PDF)
    said = referee(content, tmp_path)
    assert "ComprehensiveSR" in said or "EncapsulatedPDF" in said, said
    assert not [r for r in said.splitlines() if r.startswith("Error")], said


def test_values_intervals_and_reasons_come_back_through_pydicom(full):
    file = pydicom.dcmread(io.BytesIO(structured_report(full)))
    measured = file.ContentSequence[-1].ContentSequence
    numbers = {r.ConceptNameCodeSequence[0].CodeValue: r for r in measured if r.ValueType == "NUM"}
    assert float(numbers["371842003"].MeasuredValueSequence[0].NumericValue) == 0.842
    unit = numbers["imr"].MeasuredValueSequence[0].MeasurementUnitsCodeSequence[0]
    assert unit.CodeValue == "mm[Hg].s"
    assert len(numbers["q_rest"].MeasuredValueSequence) == 0
    said = [r.TextValue for r in numbers["q_rest"].ContentSequence if r.ValueType == "TEXT"]
    assert "No infusion was found." in said
    assert "SIMULATED" in " ".join(r.TextValue for r in file.ContentSequence if "TextValue" in r)


def test_pdf_comes_back_byte_for_byte(full):
    file = pydicom.dcmread(io.BytesIO(encapsulated_pdf(full, PDF)))
    assert file.EncapsulatedDocument[: file.EncapsulatedDocumentLength] == PDF


def test_same_study_gives_the_same_bytes(full):
    assert structured_report(full) == structured_report(full)


def test_standard_codes_are_those_of_the_dictionary():
    # pydicom's dictionary is generated from PS3.16
    assert codes.SCT.FractionalFlowReserve.value == own._FFR.value
    assert codes.cid3620.CoronaryFlowReserve.value == own._CFR.value
    there = {getattr(codes.DCM, name).value for name in codes.DCM.dir()}
    for code in (own._CFR, own._MTT):
        assert code.value in there


def test_codes_of_long_keys_fit_and_stay_apart(full):
    from arteriole.exchange.dicom import _short

    keys = ["ffr_plateau_drift_corrected", "ffr_plateau_drift_uncorrected", "imr_lag_corrected",
            "baseline_resistance_index", "late_diastolic_ratio", "tmn_rest_lag_corrected",
            "tmn_hyper_lag_corrected", "ffr_plateau", "ffr_drift_corrected"]  # fmt: skip
    short = [_short(k) for k in keys]
    assert len(set(short)) == len(keys)
    assert all(len(k) <= 16 and re.fullmatch(r"[a-z0-9_.]+", k) for k in short)
