"""IMR with collateral flow taken into account by the Yong form."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index
from arteriole.indices.lines import IMR_LINE

ABOUT: Final = About(
    key="imr_corrected", label="IMR, Yong form (bolus)", unit="U",
    method="bolus", source="[Yong2013]",
    text="Pa * Tmn * (1.35 * Pd/Pa - 0.32), all in hyperaemia; below plain IMR only where "
    "Pd/Pa is under 0.914",
    cutoffs=(IMR_LINE,),
    decimals=1,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, pa_hyper_mmhg: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_hyper_s * (1.35 * pd_hyper_mmhg - 0.32 * pa_hyper_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_hyper_mmhg", "pa_hyper_mmhg", "tmn_hyper_s"))
