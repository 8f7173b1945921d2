"""IMR with collateral flow taken into account by the occlusion pressure."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index
from arteriole.indices.lines import IMR_LINE

ABOUT: Final = About(
    key="imr_occlusion", label="IMR, occlusion form (bolus)", unit="U",
    method="bolus", source="[Layland2012]",
    text="Pa * Tmn * (Pd - Pw) / (Pa - Pw), all in hyperaemia; Pw = coronary occlusion pressure",
    cutoffs=(IMR_LINE,),
    decimals=1,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, pa_hyper_mmhg: Any, tmn_hyper_s: Any, occlusion_mmhg: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return (
        pa_hyper_mmhg
        * tmn_hyper_s
        * (pd_hyper_mmhg - occlusion_mmhg)
        / (pa_hyper_mmhg - occlusion_mmhg)
    )


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(
        ABOUT,
        evidence,
        formula,
        ("pd_hyper_mmhg", "pa_hyper_mmhg", "tmn_hyper_s", "occlusion_mmhg"),
    )
