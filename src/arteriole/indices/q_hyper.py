"""Absolute flow in hyperaemia by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "q_hyper"
LABEL: Final = "Q in hyperaemia (continuous)"
UNIT: Final = "mL/min"
METHOD: Final[Method] = "continuous"
SOURCE: Final = "[Aarnoudse2007]"
FORMULA: Final = "1.08 * (Ti / T) * Qi, temperatures as differences from blood"
DECIMALS: Final = 0
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(q_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return q_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("q_hyper_ml_min",))
