"""Flow reserve by bolus with the sensor's own lag taken out of both times."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="cfr_bolus_lag_corrected", label="CFR, lag removed (bolus)", unit="1",
    method="bolus", source="[Meier1954]",
    text="mean of (Tmn - lag - delay of the cold in the bore) * the beat's part, rest / hyperaemia",
)  # fmt: skip


def formula(tmn_rest_s: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return tmn_rest_s / tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("tmn_rest_s", "tmn_hyper_s"), lag_removed=True)
