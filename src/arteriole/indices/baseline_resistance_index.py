"""Baseline resistance index: Pd times Tmn at rest; low means high resting flow."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "baseline_resistance_index"
LABEL: Final = "baseline resistance index (bolus)"
UNIT: Final = "U"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[BasalIndex226]"
FORMULA: Final = "mean Pd just before the injections * mean Tmn, both at rest"
DECIMALS: Final = 1
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(
        name="baseline resistance index",
        relation="<",
        value=47.1,
        source="[BasalIndex226]",
        note="a prognostic line",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_rest_mmhg: Any, tmn_rest_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_rest_mmhg * tmn_rest_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_rest_mmhg", "tmn_rest_s"))
