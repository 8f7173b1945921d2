"""Resistive reserve ratio: baseline resistance index over IMR."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index

ABOUT: Final = About(
    key="rrr", label="RRR (bolus)", unit="1", method="bolus", source="[RRR2020]",
    text="(mean Tmn at rest / mean Tmn in hyperaemia) * (Pd at rest / Pd in hyperaemia)",
    cutoffs=(
        Cutoff(
            name="RRR, Doppler form",
            relation="<",
            value=2.62,
            source="[RRRNonObstructive]",
            note="no side: a line measured with Doppler",
        ),
    ),
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any, pd_rest_mmhg: Any, pd_hyper_mmhg: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return (tmn_rest_s / tmn_hyper_s) * (pd_rest_mmhg / pd_hyper_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(
        ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s", "pd_rest_mmhg", "pd_hyper_mmhg")
    )
