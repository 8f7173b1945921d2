"""Microvascular resistance reserve by bolus: CFR times Pa at rest over Pd in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index

ABOUT: Final = About(
    key="mrr_bolus", label="MRR (bolus)", unit="1", method="bolus", source="[DeBruyne2021]",
    text="CFR * Pa at rest / Pd in hyperaemia, pressures just before the injections",
    cutoffs=(
        Cutoff(
            name="MRR, mixed registry",
            relation="<=",
            value=3.0,
            source="[ILIAS2023]",
            note="no side: a registry of bolus and Doppler together",
        ),
    ),
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any, pa_rest_mmhg: Any, pd_hyper_mmhg: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return (tmn_rest_s / tmn_hyper_s) * (pa_rest_mmhg / pd_hyper_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(
        ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s", "pa_rest_mmhg", "pd_hyper_mmhg")
    )
