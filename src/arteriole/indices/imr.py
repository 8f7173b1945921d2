"""Index of microcirculatory resistance: Pd times Tmn in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "imr"
LABEL: Final = "IMR (bolus)"
UNIT: Final = "U"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Aarnoudse2004]"
FORMULA: Final = "mean Pd just before the injections * mean Tmn, both in hyperaemia"
DECIMALS: Final = 1
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(
        name="IMR",
        relation=">=",
        value=25.0,
        source="[InocaTable2024]",
        note="[Ong2018] prints it as above 25",
    ),
    Cutoff(
        name="IMR, registry line",
        relation=">=",
        value=23.0,
        source="[Registry867]",
        note="no side: another published line",
    ),
    Cutoff(
        name="IMR, upper reference limit",
        relation=">",
        value=27.2,
        source="[SolbergIMR2014]",
        note="no side: 20 healthy persons",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_hyper_mmhg * tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_hyper_mmhg", "tmn_hyper_s"))
