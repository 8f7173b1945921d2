"""IMR with collateral flow taken into account by the occlusion pressure."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "imr_occlusion"
LABEL: Final = "IMR, occlusion form (bolus)"
UNIT: Final = "U"
METHOD: Final[Method] = "bolus"
SOURCE: Final = "[Layland2012]"
FORMULA: Final = (
    "Pa * Tmn * (Pd - Pw) / (Pa - Pw), all in hyperaemia; Pw = coronary occlusion pressure"
)
DECIMALS: Final = 1
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(
        name="IMR",
        relation=">=",
        value=25.0,
        source="[InocaTable2024]",
        note="[Ong2018] prints it as above 25",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
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
