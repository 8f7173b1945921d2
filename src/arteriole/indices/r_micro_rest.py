"""Microvascular resistance at rest by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="r_micro_rest", label="R micro at rest (continuous)", unit="mmHg·min/L",
    method="continuous", source="[Fournier2021]",
    text="1000 * Pd / Q, Wood units",
    decimals=0,
)  # fmt: skip


def formula(pd_mmhg: Any, q_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return 1000.0 * pd_mmhg / q_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("flow_pd_rest_mmhg", "q_rest_ml_min"))
