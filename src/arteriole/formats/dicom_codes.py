"""Codes of DICOM waveforms, from the context groups named; a test compares them with pydicom's."""

from typing import Final

Triple = tuple[str, str, str]

#: channel -> code of its source; CID 3003 (hemodynamic), CID 3001 (ECG leads). No coronary
#: waveform is among them: Pd is an arterial pressure with the vessel as its modifier.
SOURCES: Final[dict[str, Triple]] = {
    "pa": ("128444004", "SCT", "Aortic pressure waveform"),
    "pd": ("128446002", "SCT", "Arterial pressure waveform"),
    "temp": ("128437008", "SCT", "Temperature waveform"),
    "shaft_temp": ("128437008", "SCT", "Temperature waveform"),
    "ecg": ("2:0", "MDC", "Unspecified lead"),
}
#: For channels that are kept and not used, by unit.
BY_UNIT: Final[dict[str, Triple]] = {
    "mmHg": ("128433007", "SCT", "Hemodynamic pressure waveform"),
    "°C": SOURCES["temp"],
    "mV": SOURCES["ecg"],
    "mL/min": ("128434001", "SCT", "Hemodynamic flow waveform"),
}
UNITS: Final[dict[str, Triple]] = {
    "mmHg": ("mm[Hg]", "UCUM", "mmHg"),
    "°C": ("Cel", "UCUM", "degrees C"),
    "mV": ("mV", "UCUM", "millivolt"),
    "mL/min": ("mL/min", "UCUM", "mL/min"),
}
#: How a signal was taken, CID 3241.
FLUID: Final[Triple] = ("128581002", "SCT", "Fluid filled catheter method")
TIP: Final[Triple] = ("128582009", "SCT", "Tip manometer method")
THERMISTOR: Final[Triple] = ("133914002", "SCT", "Thermistor catheter method")
_LAD, _LCX, _RCA = (
    "Left Anterior Descending Coronary Artery", "Circumflex Coronary Artery",
    "Right Coronary Artery",
)  # fmt: skip
#: vessel, or vessel and segment, in lower case -> code, CID 3015.
VESSELS: Final[dict[str, Triple]] = {
    "lm": ("3227004", "SCT", "Left Main Coronary Artery"),
    "lad": ("59438005", "SCT", _LAD),
    "lad proximal": ("68787002", "SCT", f"Proximal {_LAD}"),
    "lad mid": ("91748002", "SCT", f"Mid {_LAD}"),
    "lad distal": ("36672000", "SCT", f"Distal {_LAD}"),
    "lcx": ("57396003", "SCT", _LCX),
    "lcx proximal": ("52433000", "SCT", f"Proximal {_LCX}"),
    "lcx mid": ("91753007", "SCT", f"Mid {_LCX}"),
    "lcx distal": ("6511003", "SCT", f"Distal {_LCX}"),
    "rca": ("13647002", "SCT", _RCA),
    "rca proximal": ("91083009", "SCT", f"Proximal {_RCA}"),
    "rca mid": ("450960006", "SCT", f"Mid {_RCA}"),
    "rca distal": ("41879009", "SCT", f"Distal {_RCA}"),
    "ramus": ("244252004", "SCT", "Intermediate Artery (Ramus)"),
    "d1": ("91750005", "SCT", "1st Diagonal Coronary Artery"),
    "om1": ("91754001", "SCT", "1st Marginal Coronary Artery"),
    "pda": ("53655008", "SCT", "Posterior Descending Right Coronary Artery"),
    "graft": ("264293000", "SCT", "Coronary artery graft"),
}
_SAME = {"cx": "lcx", "lca main": "lm", "left main": "lm"}


def vessel_code(vessel: str | None, segment: str | None = None) -> Triple | None:
    """Return the code of a vessel by its usual short name, with its segment where there is one."""
    name = " ".join((vessel or "").lower().split())
    name = _SAME.get(name, name)
    part = " ".join((segment or "").lower().split())
    return VESSELS.get(f"{name} {part}") or VESSELS.get(name)
