"""Mean transit time of a bolus at rest with the sensor's own lag taken out."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="tmn_rest_lag_corrected", label="Tmn at rest, lag removed (bolus)", unit="s",
    method="bolus", source="[Meier1954]",
    text="mean of (Tmn - the sensor's own lag - delay of the cold in the bore) * the beat's part",
)  # fmt: skip


def formula(tmn_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s",), lag_removed=True)
