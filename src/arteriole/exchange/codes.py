"""Codes and units of the open standards; where a standard has none, our own scheme says so.

Standard codes are those in the DICOM context groups 3613, 3620 and 3621 [DICOM16]. No resting
ratio, resistance index or absolute coronary flow is among them, and a near miss is never reused.
"""

from dataclasses import dataclass

from arteriole.formats.dicom_codes import vessel_code
from arteriole.indices.index import Index

OWN_SCHEME = "99ARTERIOLE"
OWN_SYSTEM = "urn:arteriole:codes"
FHIR_SYSTEMS = {
    "SCT": "http://snomed.info/sct",
    "DCM": "http://dicom.nema.org/resources/ontology/DCM",
    OWN_SCHEME: OWN_SYSTEM,
}


@dataclass(frozen=True, slots=True)
class Code:
    """One code: value, scheme designator, meaning."""

    value: str
    scheme: str
    meaning: str


_FFR = Code("371842003", "SCT", "Fractional flow reserve")
_CFR = Code("122217", "DCM", "Coronary Flow Reserve")
_MTT = Code("109071", "DCM", "Indicator mean transit time")
_STANDARD = {
    "ffr": _FFR,
    "cfr_bolus": _CFR,
    "cfr_continuous": _CFR,
    "tmn_rest": _MTT,
    "tmn_hyper": _MTT,
}
#: Resistance indices are mmHg times seconds; wood units are mmHg·min/L.
_TIMES_SECONDS = ("imr", "baseline_resistance_index")
_UNITS = {"1": "1", "s": "s", "mL/min": "mL/min", "mmHg": "mm[Hg]", "°C": "Cel"}


def code_of(one: Index) -> Code:
    """Return the standard code of an index, or our own under its key."""
    return _STANDARD.get(one.key, Code(one.key, OWN_SCHEME, f"{one.label} ({one.method})"[:64]))


def ucum_of(one: Index) -> str:
    """Return the unit in UCUM, case-sensitive [UCUM]."""
    if one.key.startswith(_TIMES_SECONDS):
        return "mm[Hg].s"
    if one.key.startswith("r_micro"):
        return "mm[Hg].min/L"
    return _UNITS.get(one.unit, "1")


def vessel_of(name: str | None, segment: str | None = None) -> Code | None:
    """Return the code of a vessel by its usual short name, None when there is none."""
    found = vessel_code(name, segment)
    return Code(*found) if found else None
