"""IMR with the sensor's own lag taken out of Tmn."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="imr_lag_corrected", label="IMR, lag removed (bolus)", unit="U",
    method="bolus", source="[Meier1954]",
    text="mean Pd just before the injections * mean Tmn in hyperaemia less lag, bore, beat",
    decimals=1,
)  # fmt: skip


def formula(pd_hyper_mmhg: Any, tmn_hyper_s: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return pd_hyper_mmhg * tmn_hyper_s


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("pd_hyper_mmhg", "tmn_hyper_s"), lag_removed=True)
