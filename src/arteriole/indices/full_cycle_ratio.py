"""Full-cycle ratio: the lowest Pd/Pa anywhere in the beat, mean over beats."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index
from arteriole.indices.pressure import windowed_ratio_of

ABOUT: Final = About(
    key="full_cycle_ratio", label="full-cycle ratio", unit="1",
    method="pressure", source="[Wienemann2021]",
    text="mean over beats of the lowest Pd/Pa in the beat, 20 ms smoothing, Pa and Pd aligned",
    cutoffs=(
        Cutoff(name="full-cycle ratio", relation="<=", value=0.89, source="[FullCycle2023]"),
    ),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return Pd over Pa at the lowest point of one beat; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return windowed_ratio_of(ABOUT, evidence, formula)
