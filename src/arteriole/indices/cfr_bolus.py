"""Coronary flow reserve by bolus: mean Tmn at rest over mean Tmn in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "cfr_bolus"
LABEL: Final = "CFR (bolus)"
UNIT: Final = "1"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Pijls2002]"
FORMULA: Final = "mean Tmn at rest / mean Tmn in hyperaemia"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(name="CFR", relation="<", value=2.0, source="[Ong2018]"),
    Cutoff(name="CFR, other published line", relation="<=", value=2.5, source="[Rahman2020]"),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_rest_s / tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s"))
