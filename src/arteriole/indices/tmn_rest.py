"""Mean transit time of a bolus at rest: mean of the usable injections."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="tmn_rest", label="Tmn at rest (bolus)", unit="s", method="bolus", source="[Pijls2002]",
    text="mean over usable injections of (mean passage at the sensor - mean passage of the "
    "injectate at the catheter tip); sensor lag left in",
)  # fmt: skip


def formula(tmn_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s",))
