"""The study as DICOM objects: a Comprehensive SR of measurements and an Encapsulated PDF [DICOM3].

No template identity is claimed: the measurements stand in a plain container tree with standard
codes where the dictionary has them and the scheme 99ARTERIOLE elsewhere.
"""

import io
from collections.abc import Sequence
from typing import Any

from arteriole import CAUTION
from arteriole.exchange.codes import OWN_SCHEME, Code, code_of, ucum_of, vessel_of
from arteriole.exchange.instants import day_of, instant
from arteriole.indices.index import Index
from arteriole.study.result import Haemodynamics, Injection, Result

LONGEST_TEXT, LONGEST_MEANING = 1024, 64
_REPORT = Code("122120", "DCM", "Hemodynamics Report")
_DERIVED = Code("122126", "DCM", "Derived Hemodynamic Measurements")
_CONCLUSION = Code("121077", "DCM", "Conclusion")
_FAILED = Code("114006", "DCM", "Measurement failure")
_ALGORITHM = Code("111001", "DCM", "Algorithm Name")
_ALGORITHM_VERSION = Code("111003", "DCM", "Algorithm Version")
_FINDING = Code("121071", "DCM", "Finding")
_COMMENT = Code("121106", "DCM", "Comment")
_OBSERVER_TYPE = Code("121005", "DCM", "Observer Type")
_DEVICE = Code("121007", "DCM", "Device")
_OBSERVER_UID = Code("121012", "DCM", "Device Observer UID")
_OBSERVER_NAME = Code("121013", "DCM", "Device Observer Name")
_MTT = Code("109071", "DCM", "Indicator mean transit time")
_HEART_RATE = Code("8867-4", "LN", "Heart rate")
_SYSTOLIC = Code("8480-6", "LN", "Intravascular Systolic Blood pressure")
_MEAN = Code("6797001", "SCT", "Mean blood pressure")
_CAUTION = Code("caution", OWN_SCHEME, "Caution")
_SITE = Code("363698007", "SCT", "Finding Site")


def structured_report(result: Result, *, at: str) -> bytes:
    """Return a Comprehensive SR file; the same result made at the same time gives the same bytes.

    Parameters
    ----------
    result : Result
        The study.
    at : str
        When the document is made, ISO 8601 with zone; the caller's clock. The study's own date is
        the sheet's, and where there is none the document says so.

    Raises
    ------
    OptionError
        ``at`` is no instant with a zone.
    """
    from pydicom.uid import ComprehensiveSRStorage

    file = _start(result, ComprehensiveSRStorage, "SR", "report", at)
    file.ReferencedPerformedProcedureStepSequence = []
    file.CompletionFlag = "PARTIAL"
    file.VerificationFlag = "UNVERIFIED"
    file.PerformedProcedureCodeSequence = []
    file.ValueType = "CONTAINER"
    file.ConceptNameCodeSequence = [_coded(_REPORT)]
    file.ContinuityOfContent = "SEPARATE"
    rows = [*_observer(result), _text(_CONCLUSION, _said(result)), _text(_CAUTION, CAUTION)]
    if result.simulated:
        rows.append(_text(_own("simulated", "Simulated"), "SIMULATED: not a person's recording"))
    rows += [_text(_CONCLUSION, b) for b in result.statement.because]
    rows += [_text(_COMMENT, words) for words in _origin(result)]
    rows += [_text(_FINDING, f"{f.severity}: {f.message} {f.do}") for f in result.findings]
    rows += [_haemodynamics(name, one) for name, one in result.haemodynamics.items()]
    measured = _container(_DERIVED)
    inner = [_text(_ALGORITHM, "arteriole"), _text(_ALGORITHM_VERSION, result.version)]
    measured.ContentSequence = [
        *inner,
        *(_number(i, result) for i in result.indices),
        *(_injection(i) for i in result.injections),
    ]
    file.ContentSequence = [*rows, measured]
    return _bytes(file)


def encapsulated_pdf(result: Result, pdf: bytes, *, at: str) -> bytes:
    """Return an Encapsulated PDF file holding the Letter; ``at`` as for the report."""
    from pydicom.uid import EncapsulatedPDFStorage

    file = _start(result, EncapsulatedPDFStorage, "DOC", "letter", at)
    file.ConversionType = "SYN"
    file.BurnedInAnnotation = "YES"
    file.DocumentTitle = "Coronary physiology letter" + (" SIMULATED" if result.simulated else "")
    file.ConceptNameCodeSequence = [_coded(_REPORT)]
    file.MIMETypeOfEncapsulatedDocument = "application/pdf"
    day = day_of(result)
    file.AcquisitionDateTime = day.strftime("%Y%m%d") if day else ""
    file.EncapsulatedDocumentLength = len(pdf)
    file.EncapsulatedDocument = pdf + b"\0" * (len(pdf) % 2)
    return _bytes(file)


def _observer(result: Result) -> list[Any]:
    """Return who observed: a device, no person; a person signs the Letter by hand."""
    from pydicom.uid import generate_uid

    kind = _item("CODE", _OBSERVER_TYPE, "HAS OBS CONTEXT")
    kind.ConceptCodeSequence = [_coded(_DEVICE)]
    uid = _item("UIDREF", _OBSERVER_UID, "HAS OBS CONTEXT")
    uid.UID = generate_uid(entropy_srcs=["arteriole", result.version])
    return [kind, uid, _text(_OBSERVER_NAME, "arteriole", "HAS OBS CONTEXT")]


def _origin(result: Result) -> list[str]:
    """Return what the numbers rest on, in words."""
    day, one = day_of(result), result.recording
    dated = (
        f"Date of the study: {day.isoformat()}. Dates of this document are those of its making."
        if day
        else "Date of the study: not recorded. Dates of this document are those of its making."
    )
    return [
        dated,
        f"Recording SHA-256 {one.sha256}, {one.format}, {one.duration_s:.1f} s.",
        f"Rule table {result.statement.rules}; settings {result.settings.version}.",
    ]


def _haemodynamics(name: str, one: Haemodynamics) -> Any:
    state = _container(_own("state", f"State: {name}"[:LONGEST_MEANING]))
    rows = (
        (_HEART_RATE, one.heart_rate_bpm, "/min"), (_MEAN, one.pa_mmhg, "mm[Hg]"),
        (_SYSTOLIC, one.pa_systolic_mmhg, "mm[Hg]"),
        (_own("pd_mean", "Mean distal coronary pressure"), one.pd_mmhg, "mm[Hg]"),
        (_own("rate_pressure", "Rate-pressure product"), one.rate_pressure_product,
         "mm[Hg]/min"),
    )  # fmt: skip
    state.ContentSequence = [_plain(code, v, unit) for code, v, unit in rows if v is not None]
    if not state.ContentSequence:
        state.ContentSequence = [_text(_COMMENT, "not recorded")]
    return state


def _injection(one: Injection) -> Any:
    row = _item("NUM", _MTT)
    below = [
        _text(_own("injection", "Injection"), one.label, "HAS PROPERTIES"),
        _text(_own("phase", "State"), one.phase, "HAS PROPERTIES"),
        _text(_own("verdict", "Verdict"), one.verdict, "HAS PROPERTIES"),
        _text(_own("time_zero", "Time zero from"), one.time_zero, "HAS PROPERTIES"),
    ]
    below += [_text(_own("reason", "Reason"), r, "HAS PROPERTIES") for r in one.reasons]
    if one.tmn_s is None:
        row.MeasuredValueSequence = []
        row.NumericValueQualifierCodeSequence = [_coded(_FAILED)]
    else:
        row.MeasuredValueSequence = [_quantity(one.tmn_s, 4, "s")]
    row.ContentSequence = below
    return row


def _start(result: Result, kind: Any, modality: str, what: str, at: str) -> Any:
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian, generate_uid

    made = instant(at)
    sha, file, meta = result.recording.sha256, Dataset(), FileMetaDataset()
    file.SOPClassUID = meta.MediaStorageSOPClassUID = kind
    file.SOPInstanceUID = meta.MediaStorageSOPInstanceUID = generate_uid(
        entropy_srcs=[sha, what, result.version, result.statement.sentence, at]
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
    day = day_of(result)
    file.StudyDate = day.strftime("%Y%m%d") if day else ""
    file.StudyTime, file.StudyID, file.ReferringPhysicianName = "", "1", ""
    file.ContentDate, file.ContentTime = made.strftime("%Y%m%d"), made.strftime("%H%M%S")
    file.TimezoneOffsetFromUTC = made.strftime("%z")[:5]
    file.SeriesNumber = file.InstanceNumber = 1
    file.Manufacturer = file.ManufacturerModelName = "arteriole"
    file.DeviceSerialNumber, file.SoftwareVersions = "none", result.version
    scheme = Dataset()
    scheme.CodingSchemeDesignator = OWN_SCHEME
    scheme.CodingSchemeName = "arteriole's own codes"
    scheme.CodingSchemeResponsibleOrganization = "arteriole"
    file.CodingSchemeIdentificationSequence = [scheme]
    return file


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


def _container(name: Code) -> Any:
    one = _item("CONTAINER", name)
    one.ContinuityOfContent = "SEPARATE"
    return one


def _quantity(value: float, decimals: int, unit: str) -> Any:
    from pydicom.dataset import Dataset

    row = Dataset()
    row.NumericValue = f"{value:.{decimals}f}"
    row.MeasurementUnitsCodeSequence = [
        _coded(Code(unit, "UCUM", "no units" if unit == "1" else unit))
    ]
    return row


def _plain(name: Code, value: float, unit: str) -> Any:
    row = _item("NUM", name)
    row.MeasuredValueSequence = [_quantity(value, 1, unit)]
    return row


def _value(value: float, one: Index) -> Any:
    return _quantity(value, one.decimals + 2, ucum_of(one))


def _number(one: Index, result: Result) -> Any:
    code = code_of(one)
    if code.scheme == OWN_SCHEME:
        code = Code(_short(one.key), OWN_SCHEME, code.meaning)
    row = _item("NUM", code)
    below: list[Any] = [_text(_own("method", "Method"), one.method, "HAS PROPERTIES")]
    vessel = vessel_of(result.sheet.vessel, result.sheet.segment)
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
