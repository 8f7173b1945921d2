"""Absolute flow in hyperaemia by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="q_hyper", label="Q in hyperaemia (continuous)", unit="mL/min",
    method="continuous", source="[Aarnoudse2007]",
    text="1.08 * (Ti / T) * Qi, temperatures as differences from blood",
    decimals=0,
)  # fmt: skip


def formula(q_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return q_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("q_hyper_ml_min",))
