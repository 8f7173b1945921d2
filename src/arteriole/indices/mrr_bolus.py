"""Microvascular resistance reserve by bolus: CFR times Pa at rest over Pd in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "mrr_bolus"
LABEL: Final = "MRR (bolus)"
UNIT: Final = "1"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[DeBruyne2021]"
FORMULA: Final = "CFR * Pa at rest / Pd in hyperaemia, pressures just before the injections"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(
        name="MRR, mixed registry",
        relation="<=",
        value=3.0,
        source="[ILIAS2023]",
        note="no side: a registry of bolus and Doppler together",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any, pa_rest_mmhg: Any, pd_hyper_mmhg: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return (tmn_rest_s / tmn_hyper_s) * (pa_rest_mmhg / pd_hyper_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(
        ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s", "pa_rest_mmhg", "pd_hyper_mmhg")
    )
