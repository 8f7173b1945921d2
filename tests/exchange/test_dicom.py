import io
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pydicom
import pytest
from pydicom.sr.codedict import codes

from arteriole.exchange import codes as own
from arteriole.exchange import dicom
from arteriole.exchange.dicom import encapsulated_pdf, structured_report

AT = "2026-03-05T10:00:00+01:00"
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
    content = (
        structured_report(result, at=AT)
        if which == "report"
        else encapsulated_pdf(result, PDF, at=AT)
    )
    said = referee(content, tmp_path)
    assert "ComprehensiveSR" in said or "EncapsulatedPDF" in said, said
    assert not [r for r in said.splitlines() if r.startswith("Error")], said


def test_values_intervals_and_reasons_come_back_through_pydicom(full):
    file = pydicom.dcmread(io.BytesIO(structured_report(full, at=AT)))
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
    file = pydicom.dcmread(io.BytesIO(encapsulated_pdf(full, PDF, at=AT)))
    assert file.EncapsulatedDocument[: file.EncapsulatedDocumentLength] == PDF


def said(file) -> str:
    return " ".join(r.TextValue for r in file.ContentSequence if "TextValue" in r)


def test_document_has_the_date_of_its_making_and_the_study_its_own(full, poor):
    file = pydicom.dcmread(io.BytesIO(structured_report(full, at=AT)))
    assert (file.StudyDate, file.ContentDate) == ("20260304", "20260305")
    assert "Date of the study: 2026-03-04" in said(file)
    undated = pydicom.dcmread(io.BytesIO(structured_report(poor, at=AT)))
    assert (undated.StudyDate, undated.ContentDate) == ("", "20260305")
    assert "Date of the study: not recorded" in said(undated)


def test_a_date_that_is_not_in_the_calendar_is_no_date(full):
    odd = replace(full, sheet=replace(full.sheet, date="2026-13-45"))
    assert pydicom.dcmread(io.BytesIO(structured_report(odd, at=AT))).StudyDate == ""


def test_hash_rules_findings_and_injections_are_in_the_report(full):
    file = pydicom.dcmread(io.BytesIO(structured_report(full, at=AT)))
    for words in (full.recording.sha256, "Rule table default 1", "caution: Drift of"):
        assert words in said(file)
    times = [r for r in file.ContentSequence[-1].ContentSequence
             if r.ValueType == "NUM" and r.ConceptNameCodeSequence[0].CodeValue == "109071"
             and any("Injection" in c.ConceptNameCodeSequence[0].CodeMeaning
                     for c in r.ContentSequence)]  # fmt: skip
    assert len(times) == len(full.injections)


def dcmtk(*words: str) -> str:
    if shutil.which(words[0]) is None:
        pytest.skip(f"{words[0]} is missing; install the package dcmtk")
    seen = subprocess.run(words, capture_output=True, text=True, check=False)
    assert seen.returncode == 0, seen.stderr
    assert not re.search(r"^[EF]:", seen.stderr, re.MULTILINE), seen.stderr
    return seen.stdout


@pytest.mark.parametrize("study", ["full", "poor"])
def test_dcmtk_reads_the_report_as_a_document(study, tmp_path, request):
    path = tmp_path / "report.dcm"
    path.write_bytes(structured_report(request.getfixturevalue(study), at=AT))
    tree = dcmtk("dsrdump", "+Pl", str(path))
    assert "Comprehensive SR Document" in tree
    assert "Not a medical device" in tree
    page = tmp_path / "report.html"
    dcmtk("dsr2html", str(path), str(page))
    assert "Hemodynamics Report" in page.read_text("utf-8", errors="replace")
    if study == "full":
        assert "0.8420" in tree


def test_dcmtk_takes_the_letter_out_of_its_envelope(full, tmp_path):
    path, out = tmp_path / "letter.dcm", tmp_path / "letter.pdf"
    path.write_bytes(encapsulated_pdf(full, PDF, at=AT))
    dcmtk("dcm2pdf", str(path), str(out))
    assert out.read_bytes().rstrip(b"\0") == PDF
    assert "EncapsulatedPDFStorage" in dcmtk("dcmdump", str(path))


def test_same_study_gives_the_same_bytes(full):
    assert structured_report(full, at=AT) == structured_report(full, at=AT)


def test_standard_codes_are_those_of_the_dictionary():
    # pydicom's dictionary is generated from PS3.16
    assert codes.SCT.FractionalFlowReserve.value == own._FFR.value
    assert codes.cid3620.CoronaryFlowReserve.value == own._CFR.value
    there = {getattr(codes.DCM, name).value for name in codes.DCM.dir()}
    used = [v for v in vars(dicom).values() if isinstance(v, own.Code)]
    for code in (own._CFR, own._MTT, *used):
        if code.scheme == "DCM":
            assert code.value in there, code
    assert codes.LN.HeartRate.value == dicom._HEART_RATE.value
    assert codes.CID3611.IntravascularSystolicBloodPressure.value == dicom._SYSTOLIC.value
    assert codes.CID3611.MeanBloodPressure.value == dicom._MEAN.value


def test_codes_of_long_keys_fit_and_stay_apart(full):
    from arteriole.exchange.dicom import _short

    keys = ["ffr_plateau_drift_corrected", "ffr_plateau_drift_uncorrected", "imr_lag_corrected",
            "baseline_resistance_index", "late_diastolic_ratio", "tmn_rest_lag_corrected",
            "tmn_hyper_lag_corrected", "ffr_plateau", "ffr_drift_corrected"]  # fmt: skip
    short = [_short(k) for k in keys]
    assert len(set(short)) == len(keys)
    assert all(len(k) <= 16 and re.fullmatch(r"[a-z0-9_.]+", k) for k in short)
