"""Diastolic ratio: mean Pd over mean Pa from the notch to the next upstroke."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index
from arteriole.indices.pressure import windowed_ratio_of

ABOUT: Final = About(
    key="diastolic_ratio", label="diastolic ratio", unit="1",
    method="pressure", source="[vantVeer2017]",
    text="mean Pd / mean Pa from the dicrotic notch to the next upstroke, ratio of means",
    cutoffs=(
        Cutoff(name="diastolic ratio", relation="<=", value=0.89, source="[TwoWires2020]"),
    ),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa of the window; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return windowed_ratio_of(ABOUT, evidence, formula, others=("mid_diastolic_ratio",))
