"""FFR as read: the lowest steady mean over five consecutive beats."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.ffr_readings import lowest_as_read
from arteriole.indices.index import Cutoff, Index, Method

KEY: Final = "ffr"
LABEL: Final = "FFR"
UNIT: Final = "1"
METHOD: Final[Method] = "pressure"
SOURCE: Final = "[Johnson2015]"
FORMULA: Final = (
    "mean Pd / mean Pa, lowest mean over 5 consecutive clean beats of steady hyperaemia"
)
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = (
    Cutoff(name="FFR", relation="<=", value=0.80, source="[FFRReview2018]"),
    Cutoff(
        name="FFR, older line",
        relation="<=",
        value=0.75,
        source="[FFRReview2018]",
        note="no side: the older line, shown beside 0.80",
    ),
)
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return lowest_as_read(ABOUT, evidence, formula)
