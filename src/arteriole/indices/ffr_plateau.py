"""FFR as the mean over the steady plateau."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.evidence import Evidence
from arteriole.indices.ffr_readings import plateau_as_read
from arteriole.indices.index import Index
from arteriole.indices.lines import FFR_LINE, FFR_OLDER_LINE

ABOUT: Final = About(
    key="ffr_plateau", label="FFR, plateau mean", unit="1",
    method="pressure", source="[Johnson2015]",
    text="mean Pd / mean Pa over all clean beats of the steady plateau",
    cutoffs=(FFR_LINE, FFR_OLDER_LINE),
)  # fmt: skip


def formula(pd_mmhg: Any, pa_mmhg: Any) -> Any:
    """Return mean Pd over mean Pa; numbers or draws alike."""
    return pd_mmhg / pa_mmhg


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return plateau_as_read(ABOUT, evidence, formula)
