"""Microvascular resistance reserve by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index

ABOUT: Final = About(
    key="mrr_continuous", label="MRR (continuous)", unit="1",
    method="continuous", source="[DeBruyne2021]",
    text="(Q in hyperaemia / Q at rest) * (Pa at rest / Pd in hyperaemia)",
    cutoffs=(
        Cutoff(
            name="MRR, confirms",
            relation="<",
            value=2.1,
            source="[MRRNormal2023]",
            note="continuous only; between 2.1 and 2.7 is indeterminate",
        ),
        Cutoff(
            name="MRR, excludes above",
            relation="<=",
            value=2.7,
            source="[MRRNormal2023]",
            note="continuous only; between 2.1 and 2.7 is indeterminate",
        ),
    ),
    deciding=2,
)  # fmt: skip


def formula(q_hyper_ml_min: Any, q_rest_ml_min: Any, pa_rest_mmhg: Any, pd_hyper_mmhg: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return (q_hyper_ml_min / q_rest_ml_min) * (pa_rest_mmhg / pd_hyper_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(
        ABOUT,
        evidence,
        formula,
        ("q_hyper_ml_min", "q_rest_ml_min", "flow_pa_rest_mmhg", "flow_pd_hyper_mmhg"),
    )
