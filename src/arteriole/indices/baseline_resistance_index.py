"""Baseline resistance index: Pd times Tmn at rest; low means high resting flow."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index

ABOUT: Final = About(
    key="baseline_resistance_index", label="baseline resistance index (bolus)", unit="U",
    method="bolus", source="[BasalIndex226]",
    text="mean Pd just before the injections * mean Tmn, both at rest",
    cutoffs=(
        Cutoff(
            name="baseline resistance index",
            relation="<",
            value=47.1,
            source="[BasalIndex226]",
            note="a prognostic line",
        ),
    ),
    decimals=1,
)  # fmt: skip


def formula(pd_rest_mmhg: Any, tmn_rest_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_rest_mmhg * tmn_rest_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_rest_mmhg", "tmn_rest_s"))
