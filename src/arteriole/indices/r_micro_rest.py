"""Microvascular resistance at rest by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "r_micro_rest"
LABEL: Final = "R micro at rest (continuous)"
UNIT: Final = "mmHg·min/L"
METHOD: Final[Method] = "continuous"
SOURCE: Final = "[Fournier2021]"
FORMULA: Final = "1000 * Pd / Q, Wood units"
DECIMALS: Final = 0
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_mmhg: Any, q_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return 1000.0 * pd_mmhg / q_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("flow_pd_rest_mmhg", "q_rest_ml_min"))
