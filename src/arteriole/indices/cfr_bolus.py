"""Coronary flow reserve by bolus: mean Tmn at rest over mean Tmn in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index

ABOUT: Final = About(
    key="cfr_bolus", label="CFR (bolus)", unit="1", method="bolus", source="[Pijls2002]",
    text="mean Tmn at rest / mean Tmn in hyperaemia",
    cutoffs=(
        Cutoff(name="CFR", relation="<", value=2.0, source="[Ong2018]"),
        Cutoff(name="CFR, other published line", relation="<=", value=2.5, source="[Rahman2020]"),
    ),
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_rest_s / tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s"))
