"""The study as DICOM objects: a Comprehensive SR of measurements and an Encapsulated PDF [DICOM3].

No template identity is claimed: the measurements stand in a plain container tree with standard
codes where the dictionary has them and the scheme 99ARTERIOLE elsewhere.
"""

import io
import re
from collections.abc import Sequence
from typing import Any

from arteriole import CAUTION
from arteriole.exchange.codes import OWN_SCHEME, Code, code_of, ucum_of, vessel_of
from arteriole.indices.index import Index
from arteriole.study.result import Result

LONGEST_TEXT = 1024
_REPORT = Code("122120", "DCM", "Hemodynamics Report")
_DERIVED = Code("122126", "DCM", "Derived Hemodynamic Measurements")
_CONCLUSION = Code("121077", "DCM", "Conclusion")
_FAILED = Code("114006", "DCM", "Measurement failure")
_ALGORITHM = Code("111001", "DCM", "Algorithm Name")
_ALGORITHM_VERSION = Code("111003", "DCM", "Algorithm Version")
_SITE = Code("363698007", "SCT", "Finding Site")


def structured_report(result: Result) -> bytes:
    """Return a Comprehensive SR file; the same result gives the same bytes."""
    from pydicom.uid import ComprehensiveSRStorage

    file = _start(result, ComprehensiveSRStorage, "SR", "report")
    file.ReferencedPerformedProcedureStepSequence = []
    file.CompletionFlag = "PARTIAL"
    file.VerificationFlag = "UNVERIFIED"
    file.PerformedProcedureCodeSequence = []
    file.ValueType = "CONTAINER"
    file.ConceptNameCodeSequence = [_coded(_REPORT)]
    file.ContinuityOfContent = "SEPARATE"
    rows = [_text(_CONCLUSION, _said(result)), _text(_own("caution", "Caution"), CAUTION)]
    if result.simulated:
        rows.append(_text(_own("simulated", "Simulated"), "SIMULATED: not a person's recording"))
    measured = _item("CONTAINER", _DERIVED)
    measured.ContinuityOfContent = "SEPARATE"
    inner = [_text(_ALGORITHM, "arteriole"), _text(_ALGORITHM_VERSION, result.version)]
    measured.ContentSequence = inner + [_number(i, result) for i in result.indices]
    file.ContentSequence = [*rows, measured]
    return _bytes(file)


def encapsulated_pdf(result: Result, pdf: bytes) -> bytes:
    """Return an Encapsulated PDF file holding the Letter."""
    from pydicom.uid import EncapsulatedPDFStorage

    file = _start(result, EncapsulatedPDFStorage, "DOC", "letter")
    file.ConversionType = "SYN"
    file.BurnedInAnnotation = "YES"
    file.DocumentTitle = "Coronary physiology letter" + (" SIMULATED" if result.simulated else "")
    file.ConceptNameCodeSequence = [_coded(_REPORT)]
    file.MIMETypeOfEncapsulatedDocument = "application/pdf"
    file.AcquisitionDateTime = ""
    file.EncapsulatedDocumentLength = len(pdf)
    file.EncapsulatedDocument = pdf + b"\0" * (len(pdf) % 2)
    return _bytes(file)


def _start(result: Result, kind: Any, modality: str, what: str) -> Any:
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian, generate_uid

    sha, file, meta = result.recording.sha256, Dataset(), FileMetaDataset()
    file.SOPClassUID = meta.MediaStorageSOPClassUID = kind
    file.SOPInstanceUID = meta.MediaStorageSOPInstanceUID = generate_uid(
        entropy_srcs=[sha, what, result.version, result.statement.sentence]
    )
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    file.file_meta, file.SpecificCharacterSet, file.Modality = meta, "ISO_IR 192", modality
    file.StudyInstanceUID = generate_uid(entropy_srcs=[sha, "study"])
    file.SeriesInstanceUID = generate_uid(entropy_srcs=[sha, "series", what])
    file.PatientName = "SIMULATED^" if result.simulated else ""
    label = "".join(c for c in result.sheet.patient_label or "" if c.isprintable() and c != "\\")
    # LO holds 64 characters; readers that count bytes are satisfied too.
    file.PatientID = label.encode()[:64].decode(errors="ignore")
    file.PatientBirthDate, file.PatientSex, file.AccessionNumber = "", "", ""
    file.StudyDate = file.ContentDate = _date(result)
    file.StudyTime, file.StudyID, file.ReferringPhysicianName = "", "1", ""
    file.ContentTime = "000000"
    file.SeriesNumber = file.InstanceNumber = 1
    file.Manufacturer = file.ManufacturerModelName = "arteriole"
    file.DeviceSerialNumber, file.SoftwareVersions = "none", result.version
    scheme = Dataset()
    scheme.CodingSchemeDesignator = OWN_SCHEME
    scheme.CodingSchemeName = "arteriole's own codes"
    scheme.CodingSchemeResponsibleOrganization = "arteriole"
    file.CodingSchemeIdentificationSequence = [scheme]
    return file


def _date(result: Result) -> str:
    date = result.sheet.date or ""
    # ContentDate may not be empty; without a recorded date it is the first day of the calendar.
    return date.replace("-", "") if re.fullmatch(r"\d{4}-\d\d-\d\d", date) else "19000101"


def _said(result: Result) -> str:
    missing = ", ".join(result.statement.not_assessed) or "nothing named"
    return f"{result.statement.sentence} Not assessed: {missing}."


def _own(value: str, meaning: str) -> Code:
    return Code(value, OWN_SCHEME, meaning)


def _coded(code: Code) -> Any:
    from pydicom.dataset import Dataset

    one = Dataset()
    one.CodeValue, one.CodingSchemeDesignator = code.value[:16], code.scheme
    one.CodeMeaning = code.meaning
    return one


def _item(kind: str, name: Code, relation: str = "CONTAINS") -> Any:
    from pydicom.dataset import Dataset

    one = Dataset()
    one.RelationshipType, one.ValueType = relation, kind
    one.ConceptNameCodeSequence = [_coded(name)]
    return one


def _text(name: Code, words: str, relation: str = "CONTAINS") -> Any:
    one = _item("TEXT", name, relation)
    flat = "".join(c if c.isprintable() else " " for c in words)
    one.TextValue = flat[:LONGEST_TEXT] or "not recorded"
    return one


def _value(value: float, one: Index) -> Any:
    from pydicom.dataset import Dataset

    row = Dataset()
    row.NumericValue = f"{value:.{one.decimals + 2}f}"
    unit = ucum_of(one)
    row.MeasurementUnitsCodeSequence = [
        _coded(Code(unit, "UCUM", "no units" if unit == "1" else unit))
    ]
    return row


def _number(one: Index, result: Result) -> Any:
    code = code_of(one)
    if code.scheme == OWN_SCHEME:
        code = Code(_short(one.key), OWN_SCHEME, code.meaning)
    row = _item("NUM", code)
    below: list[Any] = [_text(_own("method", "Method"), one.method, "HAS PROPERTIES")]
    vessel = vessel_of(result.sheet.vessel)
    if vessel is not None:
        site = _item("CODE", _SITE, "HAS PROPERTIES")
        site.ConceptCodeSequence = [_coded(vessel)]
        below.append(site)
    if one.value is None:
        row.MeasuredValueSequence = []
        row.NumericValueQualifierCodeSequence = [_coded(_FAILED)]
        reason = one.withheld.reason if one.withheld else "withheld"
        below.append(_text(_own("withheld", "Withheld, which does not mean normal"), reason,
                           "HAS PROPERTIES"))  # fmt: skip
    else:
        row.MeasuredValueSequence = [_value(one.value, one)]
        below += _interval(one)
        below.append(_text(_own("certainty", "Certainty"), one.certainty, "HAS PROPERTIES"))
    row.ContentSequence = below
    return row


def _interval(one: Index) -> Sequence[Any]:
    rows = []
    for name, value in zip(("low95", "high95"), one.interval95 or (), strict=False):
        end = "Lower" if name == "low95" else "Upper"
        row = _item("NUM", _own(name, f"{end} end of the 95 % interval"), "HAS PROPERTIES")
        row.MeasuredValueSequence = [_value(value, one)]
        rows.append(row)
    return rows


def _short(key: str) -> str:
    """Return a code of at most 16 characters (SH), still unique among the index keys."""
    if len(key) <= 16:
        return key
    from hashlib import sha256

    return f"{key[:11]}.{sha256(key.encode()).hexdigest()[:4]}"


def _bytes(file: Any) -> bytes:
    out = io.BytesIO()
    file.save_as(out, enforce_file_format=True)
    return out.getvalue()
