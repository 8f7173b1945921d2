"""CFR over FFR: the flow reserve the bed would have without the epicardial stenosis."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "cfr_over_ffr"
LABEL: Final = "CFR/FFR (bolus)"
UNIT: Final = "1"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[DeBruyne2021]"
FORMULA: Final = "CFR by bolus / FFR as read"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(cfr: Any, ffr: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return cfr / ffr


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("cfr", "ffr"))
