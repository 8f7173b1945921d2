"""Index of microcirculatory resistance: Pd times Tmn in hyperaemia."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index
from arteriole.indices.lines import IMR_LINE

ABOUT: Final = About(
    key="imr", label="IMR (bolus)", unit="U", method="bolus", source="[Aarnoudse2004]",
    text="mean Pd just before the injections * mean Tmn, both in hyperaemia",
    cutoffs=(
        IMR_LINE,
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
    ),
    decimals=1,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_hyper_mmhg * tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_hyper_mmhg", "tmn_hyper_s"))
