"""Late-diastolic ratio: from 25 % into diastole to 5 ms before its end."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Cutoff, Index, Method
from arteriole.indices.pressure import windowed_ratio_of

KEY: Final = "late_diastolic_ratio"
LABEL: Final = "late-diastolic ratio"
UNIT: Final = "1"
METHOD: Final[Method] = "pressure"
SOURCE: Final = "[Sen2012]"
FORMULA: Final = "mean Pd / mean Pa from 25 % into diastole to 5 ms before its end, ratio of means"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(name="late-diastolic ratio", relation="<=", value=0.89, source="[CONTRAST2017]"),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa of the window; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index over the clean beats of proven rest, or why there is none."""
    return windowed_ratio_of(ABOUT, evidence, formula)
