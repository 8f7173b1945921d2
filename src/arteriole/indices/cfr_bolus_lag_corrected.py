"""Flow reserve by bolus with the sensor's own lag taken out of both times."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "cfr_bolus_lag_corrected"
LABEL: Final = "CFR, lag removed (bolus)"
UNIT: Final = "1"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Meier1954]"
FORMULA: Final = "(mean Tmn at rest - lag) / (mean Tmn in hyperaemia - lag)"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_rest_s / tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s"), lag_removed=True)
