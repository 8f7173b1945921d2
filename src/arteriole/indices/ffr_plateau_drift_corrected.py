"""Plateau FFR with the gauges' offset taken off Pd."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.ffr_readings import plateau_corrected
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "ffr_plateau_drift_corrected"
LABEL: Final = "FFR, plateau mean, drift removed"
UNIT: Final = "1"
METHOD: Final[Method] = "pressure"
SOURCE: Final = "[Johnson2015]"
FORMULA: Final = (
    "(mean Pd - offset) / mean Pa over the steady plateau; offset linear between "
    "equalisation and drift check"
)
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(name="FFR", relation="<=", value=0.80, source="[FFRReview2018]"),
    Cutoff(
        name="FFR, older line",
        relation="<=",
        value=0.75,
        source="[FFRReview2018]",
        note="no side: the older line, shown beside 0.80",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any, offset_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa, the offset taken off Pd; numbers or draws alike."""
    return (pd_mmhg - offset_mmhg) / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return plateau_corrected(ABOUT, evidence, formula)
