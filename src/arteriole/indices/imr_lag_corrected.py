"""IMR with the sensor's own lag taken out of Tmn."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "imr_lag_corrected"
LABEL: Final = "IMR, lag removed (bolus)"
UNIT: Final = "U"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Meier1954]"
FORMULA: Final = "mean Pd just before the injections * (mean Tmn in hyperaemia - lag)"
DECIMALS: Final = 1
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_hyper_mmhg * tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_hyper_mmhg", "tmn_hyper_s"), lag_removed=True)
