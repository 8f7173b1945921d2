"""Late-diastolic ratio: from 25 % into diastole to 5 ms before its end."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.calibration import late_diastolic_from_pd_pa
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index
from arteriole.indices.pressure import windowed_ratio_of

ABOUT: Final = About(
    key="late_diastolic_ratio", label="late-diastolic ratio", unit="1",
    method="pressure", source="[Sen2012]",
    text="mean Pd / mean Pa from 25 % into diastole to 5 ms before its end, ratio of means",
    cutoffs=(
        Cutoff(name="late-diastolic ratio", relation="<=", value=0.89, source="[CONTRAST2017]"),
    ),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa of the window; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return windowed_ratio_of(ABOUT, evidence, formula, expected=late_diastolic_from_pd_pa)
