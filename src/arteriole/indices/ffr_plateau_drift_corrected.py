"""Plateau FFR with the gauges' offset taken off Pd."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.ffr_readings import BUT_A_STEP, plateau_corrected
from arteriole.indices.index import Index
from arteriole.indices.lines import FFR_LINE, FFR_OLDER_LINE

ABOUT: Final = About(
    key="ffr_plateau_drift_corrected", label="FFR, plateau mean, drift removed", unit="1",
    method="pressure", source="[Johnson2015]",
    text=f"(mean Pd - offset) / mean Pa over the steady plateau; {BUT_A_STEP}",
    cutoffs=(FFR_LINE, FFR_OLDER_LINE),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any, offset_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa, the offset taken off Pd; numbers or draws alike."""
    return (pd_mmhg - offset_mmhg) / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return plateau_corrected(ABOUT, evidence, formula)
