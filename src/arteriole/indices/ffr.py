"""FFR as read: the lowest steady mean over five consecutive beats."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.ffr_readings import lowest_as_read
from arteriole.indices.index import Index
from arteriole.indices.lines import FFR_LINE, FFR_OLDER_LINE

ABOUT: Final = About(
    key="ffr", label="FFR", unit="1", method="pressure", source="[Johnson2015]",
    text="mean Pd / mean Pa, lowest mean over 5 consecutive clean beats of steady hyperaemia",
    cutoffs=(FFR_LINE, FFR_OLDER_LINE),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return lowest_as_read(ABOUT, evidence, formula)
