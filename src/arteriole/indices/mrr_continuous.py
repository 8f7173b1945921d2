"""Microvascular resistance reserve by continuous thermodilution."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "mrr_continuous"
LABEL: Final = "MRR (continuous)"
UNIT: Final = "1"
METHOD: Final[Method] = "continuous"
SOURCE: Final = "[DeBruyne2021]"
FORMULA: Final = "(Q in hyperaemia / Q at rest) * (Pa at rest / Pd in hyperaemia)"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
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
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS, deciding=2,
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
