"""CFR over FFR: the flow reserve the bed would have without the epicardial stenosis."""

from typing import Any, Final

from arteriole.indices.about import About
from arteriole.indices.bolus import bolus_index
from arteriole.indices.evidence import Evidence
from arteriole.indices.index import Index

ABOUT: Final = About(
    key="cfr_over_ffr", label="CFR/FFR (bolus)", unit="1", method="bolus", source="[DeBruyne2021]",
    text="CFR by bolus / FFR as read",
)  # fmt: skip


def formula(cfr: Any, ffr: Any) -> Any:
    """Return the index from its inputs; numbers or draws alike."""
    return cfr / ffr


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    return bolus_index(ABOUT, evidence, formula, ("cfr", "ffr"))
