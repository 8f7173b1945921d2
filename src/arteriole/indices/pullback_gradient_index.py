"""Pullback gradient index: 0 diffuse to 1 focal."""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from arteriole.indices.about import NO_SIDE, About, Where, give, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.ground import ground_of
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.indices.pullback_drop import NO_PULLBACK
from arteriole.indices.quantity import Quantity

ABOUT: Final = About(
    key="pullback_gradient_index", label="pullback gradient index", unit="1",
    method="pressure", source="[Collet2019]",
    text="(largest drop over 20 mm / total drop + 1 - diseased length / total length) / 2",
    cutoffs=(
        Cutoff(
            name="pullback gradient index, registry mean", relation="<", value=0.62,
            source="[GradientGlobal2024]", note="below means diffuse rather than focal",
        ),
    ),
)  # fmt: skip
NO_LENGTH: Final = Withheld(
    reason="The length of the pullback is not known.", do="Enter pullback.length_mm on the sheet."
)
AT_REST: Final = "measured at rest, and the line was made in hyperaemia"
NO_PACE: Final = "found and told duration of the pullback disagree"


def no_shape(drop: float) -> Withheld:
    """Return why a drop that may be nothing has no index."""
    return Withheld(
        reason=f"Pd/Pa falls by {drop:.2f} along the pullback, too little to tell how it falls.",
        do="Nothing where the vessel loses no pressure; else mark beginning and end of the motion.",
    )


def formula(max_drop_20mm: Any, total_drop: Any, diseased_share: Any) -> Any:
    """Return the index from its parts; numbers or draws alike."""
    return (max_drop_20mm / total_drop + 1.0 - diseased_share) / 2.0


def within(index: Quantity) -> Quantity:
    """Return the index with its draws between 0 and 1, beyond which none can be."""
    parts = {s: np.clip(index.value + p, 0.0, 1.0) - index.value for s, p in index.parts.items()}
    return Quantity(value=index.value, parts=parts)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    ground, trace = ground_of(evidence), evidence.pullback
    typed = ground.typed(ABOUT.key)
    if typed is not None:
        return give(ABOUT, within(typed), inputs={}, notes=("As typed.",))
    if trace is None:
        return withhold(ABOUT, ground.why(ABOUT.key, "pullback", otherwise=NO_PULLBACK))
    if trace.gradient_index is None:
        missing = no_shape(trace.drop) if trace.place_known else NO_LENGTH
        return withhold(ABOUT, ground.why(ABOUT.key, otherwise=missing))
    doubt = (trace.gradient_index_sd or 0.0) * ground.chance.normal("pullback gradient")
    inputs = {"total_drop": trace.drop}
    if trace.max_drop_20mm is not None:
        inputs["max_drop_20mm"] = trace.max_drop_20mm
    if trace.diseased_share is not None:
        inputs["diseased_share"] = trace.diseased_share
    against = AT_REST if trace.state == "rest" else "" if trace.pace_agrees else NO_PACE
    lines = ABOUT.cutoffs
    if against:
        lines = tuple(replace(c, note=f"{NO_SIDE}{against}") for c in lines)
    return give(
        replace(ABOUT, cutoffs=lines),
        within(Quantity(value=trace.gradient_index, parts={"pressure": doubt})), inputs=inputs,
        notes=(f"Measured: {trace.state}.", f"No side: {against}." if against else ""),
        where=Where(windows_s=((trace.start_s, trace.end_s),)),
    )  # fmt: skip
