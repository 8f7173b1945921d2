"""Resting Pd/Pa: mean Pd over mean Pa over whole beats at proven rest."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index
from arteriole.indices.pressure import resting_pd_pa_of

ABOUT: Final = About(
    key="resting_pd_pa", label="resting Pd/Pa", unit="1",
    method="pressure", source="[CONTRAST2017]",
    text="mean Pd / mean Pa, ratio of means over the same whole beats at rest",
    cutoffs=(
        Cutoff(
            name="resting Pd/Pa",
            relation="<=",
            value=0.91,
            source="[CONTRAST2017]",
            note="matched to a late-diastolic ratio of 0.89",
        ),
    ),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return resting_pd_pa_of(ABOUT, evidence, formula)
