"""Mean transit time of a bolus at rest with the sensor's own lag taken out."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "tmn_rest_lag_corrected"
LABEL: Final = "Tmn at rest, lag removed (bolus)"
UNIT: Final = "s"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Meier1954]"
FORMULA: Final = "mean Tmn - the sensor's own lag"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(tmn_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s",), lag_removed=True)
