"""Flow reserve by continuous thermodilution; it shares no line with the bolus."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="cfr_continuous", label="CFR (continuous)", unit="1",
    method="continuous", source="[Gallinoro2021]",
    text="Q in hyperaemia / Q at rest",
)  # fmt: skip


def formula(q_hyper_ml_min: Any, q_rest_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return q_hyper_ml_min / q_rest_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("q_hyper_ml_min", "q_rest_ml_min"))
