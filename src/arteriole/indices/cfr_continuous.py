"""Flow reserve by continuous thermodilution; it shares no line with the bolus."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.continuous import continuous_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "cfr_continuous"
LABEL: Final = "CFR (continuous)"
UNIT: Final = "1"
METHOD: Final[Method] = "continuous"
SOURCE: Final = "[Gallinoro2021]"
FORMULA: Final = "Q in hyperaemia / Q at rest"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(q_hyper_ml_min: Any, q_rest_ml_min: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return q_hyper_ml_min / q_rest_ml_min


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return continuous_index(ABOUT, evidence, formula, ("q_hyper_ml_min", "q_rest_ml_min"))
