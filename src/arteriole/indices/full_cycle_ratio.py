"""Full-cycle ratio: the lowest Pd/Pa anywhere in the beat, mean over beats."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method
from arteriole.indices.pressure import windowed_ratio_of

KEY: Final = "full_cycle_ratio"
LABEL: Final = "full-cycle ratio"
UNIT: Final = "1"
METHOD: Final[Method] = "pressure"
SOURCE: Final = "[Wienemann2021]"
FORMULA: Final = (
    "mean over beats of the lowest Pd/Pa in the beat, 20 ms smoothing, Pa and Pd aligned"
)
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(name="full-cycle ratio", relation="<=", value=0.89, source="[FullCycle2023]"),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return Pd over Pa at the lowest point of one beat; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return windowed_ratio_of(ABOUT, evidence, formula)
