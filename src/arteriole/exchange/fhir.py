"""The study as a FHIR R4B bundle [FHIR4B]; needs the extra ``fhir``.

Withheld numbers are Observations with ``dataAbsentReason``, never a made-up value. LOINC appears
only where a code was verified; SNOMED CT and DICOM codes only as DICOM prints them.
"""

import base64
import json
import uuid
from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha1
from typing import Any

import numpy as np

from arteriole import CAUTION
from arteriole.errors import OptionError
from arteriole.exchange.codes import FHIR_SYSTEMS, OWN_SYSTEM, code_of, ucum_of, vessel_of
from arteriole.exchange.instants import day_of, instant
from arteriole.indices.index import Index
from arteriole.recording.channel import Channel
from arteriole.recording.edit import EditRecord
from arteriole.recording.recording import Recording
from arteriole.store.edit_json import edit_to_mapping
from arteriole.study.result import Haemodynamics, Result

UCUM = "http://unitsofmeasure.org"
EXCERPT_S = 10.0  # a look at the signals, not the recording; our choice, decision 0085
STEP = 0.01  # mmHg or °C of one count in the excerpt
_REPORT = {"system": "http://loinc.org", "code": "76640-2",
           "display": "Coronary artery catheterization study"}  # fmt: skip
_TEST_LABEL = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST",
               "display": "test health data"}  # fmt: skip


def bundle(
    result: Result,
    *,
    at: str,
    recording: Recording | None = None,
    pdf: bytes | None = None,
    edits: Sequence[EditRecord] = (),
    signed: bool = False,
) -> str:
    """Return the bundle as JSON, accepted by the R4B models.

    Parameters
    ----------
    result : Result
        The study.
    recording : Recording, optional
        Gives a short excerpt of each signal.
    pdf : bytes, optional
        The Letter, carried once as a Binary; report and DocumentReference point to it.
    at : str
        When it was made, ISO 8601 with zone; the caller's clock.
    edits : sequence of EditRecord
        The ledger: each edit is a Provenance with who, when and why.
    signed : bool
        A signed study is ``final``, any other ``preliminary``.

    Raises
    ------
    OptionError
        ``at`` is no instant with a zone.
    """
    from fhir.resources.R4B.bundle import Bundle

    instant(at)
    status = "final" if signed else "preliminary"
    subject = _address(result, "patient")
    device = _address(result, "device")
    parts: dict[str, dict[str, Any]] = {
        "patient": {"resourceType": "Patient", "identifier": [
            {"system": OWN_SYSTEM, "value": _line(result.sheet.patient_label
                                                  or result.sheet.case_id or "not recorded")}]},
        "device": {"resourceType": "Device",
                   "deviceName": [{"name": "arteriole", "type": "other"}],
                   "version": [{"value": result.version}]},
    }  # fmt: skip
    observations = []
    for one in result.indices:
        key = f"observation-{one.key}"
        parts[key] = _observation(one, result, status, subject, device)
        observations.append({"reference": _address(result, key)})
    if recording is not None:
        for channel in recording.channels:
            seen = _excerpt(channel, result, status, subject)
            if seen is not None:
                parts[f"signal-{channel.name}"] = seen
                observations.append({"reference": _address(result, f"signal-{channel.name}")})
    for name, state in result.haemodynamics.items():
        for key, part in _haemodynamics(name, state, result, status, subject):
            parts[key] = part
            observations.append({"reference": _address(result, key)})
    parts["report"] = _report(result, status, subject, observations, pdf)
    if pdf is not None:
        parts["letter"] = {"resourceType": "Binary", "contentType": "application/pdf",
                           "data": base64.b64encode(pdf).decode()}  # fmt: skip
        parts["document"] = _document(result, subject, device, at, pdf)
    parts["provenance"] = _provenance(result, device, at, pdf is not None)
    for k, edit in enumerate(edits):
        parts[f"edit-{k}"] = _edited(result, edit, at)
    if result.simulated:
        for part in parts.values():
            part["meta"] = {"security": [_TEST_LABEL]}
    plain = {
        "resourceType": "Bundle",
        "type": "collection",
        "timestamp": at,
        "entry": [{"fullUrl": _address(result, k), "resource": p} for k, p in parts.items()],
    }
    model = Bundle.model_validate(plain)
    text: str = model.model_dump_json(indent=1)
    return text


def _address(result: Result, key: str) -> str:
    space = uuid.uuid5(uuid.NAMESPACE_URL, f"arteriole:{result.recording.sha256}")
    return f"urn:uuid:{uuid.uuid5(space, key)}"


def _line(words: str) -> str:
    flat = "".join(c if c.isprintable() else " " for c in words)
    return " ".join(flat.split())[:1000] or "not recorded"


def _concept(system: str, code: str, display: str) -> dict[str, Any]:
    return {"coding": [{"system": system, "code": code, "display": display}], "text": display}


def _quantity(value: float, one: Index) -> dict[str, Any]:
    return {"value": f"{value:.{one.decimals + 2}f}", "unit": one.unit, "system": UCUM,
            "code": ucum_of(one)}  # fmt: skip


def _observation(
    one: Index, result: Result, status: str, subject: str, device: str
) -> dict[str, Any]:
    code = code_of(one)
    row: dict[str, Any] = {
        "resourceType": "Observation",
        "status": status,
        "code": _concept(FHIR_SYSTEMS[code.scheme], code.value, code.meaning),
        "subject": {"reference": subject},
        "device": {"reference": device},
        "method": {"text": f"{one.method}: {_line(one.formula)}"},
    }
    row["code"]["text"] = _line(one.label)
    vessel = vessel_of(result.sheet.vessel, result.sheet.segment)
    if vessel is not None:
        row["bodySite"] = _concept(FHIR_SYSTEMS[vessel.scheme], vessel.value, vessel.meaning)
    notes = [one.certainty, *([one.note] if one.note else [])]
    if one.value is None:
        reason = one.withheld.reason if one.withheld else "withheld"
        row["dataAbsentReason"] = _concept(
            "http://terminology.hl7.org/CodeSystem/data-absent-reason", "error", "Error"
        ) | {"text": _line(reason)}
        notes.append("withheld does not mean normal")
    else:
        row["valueQuantity"] = _quantity(one.value, one)
        if one.interval95 is not None:
            row["component"] = [
                {"code": _concept(OWN_SYSTEM, name, words), "valueQuantity": _quantity(v, one)}
                for (name, words), v in zip(
                    (("low95", "lower end of the 95 % interval"),
                     ("high95", "upper end of the 95 % interval")), one.interval95, strict=True)
            ]  # fmt: skip
    if result.simulated:
        notes.append("SIMULATED")
    return row | {"note": [{"text": _line("; ".join(notes))}]}


def _excerpt(channel: Channel, result: Result, status: str, subject: str) -> dict[str, Any] | None:
    start = next((i.windows_s[0][0] for i in result.indices if i.windows_s), 0.0)
    first = max(0, round((start - channel.start_s) * channel.rate_hz))
    piece = channel.values[first : first + round(EXCERPT_S * channel.rate_hz)]
    if not piece.size or channel.unit not in {"mmHg", "°C", "mV"}:
        return None
    counts = ["E" if not np.isfinite(v) else str(round(v / STEP)) for v in piece.tolist()]
    unit = {"mmHg": "mm[Hg]", "°C": "Cel", "mV": "mV"}[channel.unit]
    return {
        "resourceType": "Observation",
        "status": status,
        "code": _concept(OWN_SYSTEM, f"signal-{channel.name}"[:60], f"{channel.name}, excerpt"),
        "subject": {"reference": subject},
        "valueSampledData": {
            "origin": {"value": "0", "unit": channel.unit, "system": UCUM, "code": unit},
            "period": f"{1000.0 / channel.rate_hz:.6f}",
            "factor": f"{STEP}",
            "dimensions": 1,
            "data": " ".join(counts),
        },
        "note": [{"text": f"from {first / channel.rate_hz + channel.start_s:.3f} s of the recording"
                          + ("; SIMULATED" if result.simulated else "")}],
    }  # fmt: skip


def _report(
    result: Result, status: str, subject: str, rows: list[dict[str, Any]], pdf: bytes | None
) -> dict[str, Any]:
    missing = ", ".join(result.statement.not_assessed)
    said = ("SIMULATED. " if result.simulated else "") + result.statement.sentence
    conclusion = f"{said} Not assessed: {missing or 'nothing named'}. {CAUTION}"
    part: dict[str, Any] = {
        "resourceType": "DiagnosticReport",
        "status": status,
        "code": {"coding": [_REPORT], "text": "Coronary physiology study"},
        "subject": {"reference": subject},
        "result": rows,
        "conclusion": _line(conclusion),
    }
    day = day_of(result)
    if day is not None:
        part["effectiveDateTime"] = day.isoformat()
    if pdf is not None:
        part["presentedForm"] = [_attachment(result, pdf)]
    return part


def _attachment(result: Result, pdf: bytes) -> dict[str, Any]:
    return {
        "contentType": "application/pdf", "language": "en", "title": "Letter",
        "url": _address(result, "letter"), "size": len(pdf),
        "hash": base64.b64encode(sha1(pdf, usedforsecurity=False).digest()).decode(),
    }  # fmt: skip


def _document(result: Result, subject: str, device: str, at: str, pdf: bytes) -> dict[str, Any]:
    return {
        "resourceType": "DocumentReference",
        "status": "current",
        "type": {"coding": [_REPORT], "text": "Coronary physiology letter"},
        "subject": {"reference": subject},
        "date": at,
        "author": [{"reference": device}],
        "description": _line("Coronary physiology letter" + (
            ", SIMULATED" if result.simulated else "")),
        "content": [{"attachment": _attachment(result, pdf)}],
    }  # fmt: skip


def _provenance(result: Result, device: str, at: str, has_letter: bool) -> dict[str, Any]:
    """Return what the report was made from: software, recording, rules, settings."""
    targets = ["report", "document"] if has_letter else ["report"]
    sources = (
        ("urn:sha256", result.recording.sha256, "recording"),
        (OWN_SYSTEM, f"rules {result.statement.rules}", "rule table"),
        (OWN_SYSTEM, f"settings {result.settings.version}", "settings"),
    )
    return {
        "resourceType": "Provenance",
        "target": [{"reference": _address(result, t)} for t in targets],
        "recorded": at,
        "agent": [{
            "type": _concept("http://terminology.hl7.org/CodeSystem/provenance-participant-type",
                             "assembler", "Assembler"),
            "who": {"reference": device, "display": f"arteriole {result.version}"},
        }],
        "entity": [
            {"role": "source", "what": {"identifier": {"system": system, "value": _line(value)},
                                        "display": what}}
            for system, value, what in sources
        ],
    }  # fmt: skip


def _edited(result: Result, edit: EditRecord, at: str) -> dict[str, Any]:
    """Return one line of the ledger: what a person changed before the report was made."""
    try:
        instant(edit.when)
        when, dated = edit.when, ""
    except OptionError:
        when, dated = at, f" (time as in the ledger: {_line(edit.when)})"
    what = edit_to_mapping(edit.edit)
    words = json.dumps(what, ensure_ascii=False, sort_keys=True)
    return {
        "resourceType": "Provenance",
        "target": [{"reference": _address(result, "report")}],
        "recorded": when,
        "activity": {"text": _line(f"{type(edit.edit).__name__} {words}{dated}")},
        "reason": [{"text": _line(edit.why)}],
        "agent": [{
            "type": _concept("http://terminology.hl7.org/CodeSystem/provenance-participant-type",
                             "author", "Author"),
            "who": {"display": _line(edit.who)},
        }],
        "entity": [{"role": "revision", "what": {"identifier": {
            "system": OWN_SYSTEM, "value": _line(f"edit {edit.id}")}}}],
    }  # fmt: skip


def _haemodynamics(
    name: str, one: Haemodynamics, result: Result, status: str, subject: str
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield heart rate and pressures of one state; they stand beside CFR."""
    rows = (
        ("heart-rate", ("http://loinc.org", "8867-4", "Heart rate"), one.heart_rate_bpm, "/min"),
        ("systolic", ("http://loinc.org", "76215-3", "Invasive Systolic blood pressure"),
         one.pa_systolic_mmhg, "mm[Hg]"),
        ("pa-mean", ("http://loinc.org", "8478-0", "Mean blood pressure"), one.pa_mmhg, "mm[Hg]"),
        ("pd-mean", (OWN_SYSTEM, "pd-mean", "Mean distal coronary pressure"), one.pd_mmhg,
         "mm[Hg]"),
    )  # fmt: skip
    for key, concept, value, unit in rows:
        if value is None:
            continue
        notes = [f"state: {name}", *(["SIMULATED"] if result.simulated else [])]
        yield f"{key}-{name}", {
            "resourceType": "Observation",
            "status": status,
            "code": _concept(*concept),
            "subject": {"reference": subject},
            "valueQuantity": {"value": f"{value:.1f}", "unit": unit.replace("[Hg]", "Hg"),
                              "system": UCUM, "code": unit},
            "note": [{"text": _line("; ".join(notes))}],
        }  # fmt: skip


def resources(text: str) -> Mapping[str, int]:
    """Return how many resources of each kind a bundle holds."""
    counted: dict[str, int] = {}
    for entry in json.loads(text)["entry"]:
        kind = entry["resource"]["resourceType"]
        counted[kind] = counted.get(kind, 0) + 1
    return counted
