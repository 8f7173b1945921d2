"""Pullback gradient index: 0 diffuse to 1 focal."""

from typing import Any, Final

from arteriole.indices.about import About, Where, give, withhold
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
    reason="The length of the pullback is not known, or its drop is too small to divide by.",
    do="Enter pullback.length_mm on the sheet.",
)


def formula(max_drop_20mm: Any, total_drop: Any, diseased_share: Any) -> Any:
    """Return the index from its parts; numbers or draws alike."""
    return (max_drop_20mm / total_drop + 1.0 - diseased_share) / 2.0


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    ground, trace = ground_of(evidence), evidence.pullback
    typed = ground.typed(ABOUT.key)
    if typed is not None:
        return give(ABOUT, typed, inputs={}, notes=("As typed.",))
    if trace is None:
        return withhold(ABOUT, ground.why(ABOUT.key, "pullback", otherwise=NO_PULLBACK))
    if trace.gradient_index is None:
        return withhold(ABOUT, ground.why(ABOUT.key, otherwise=NO_LENGTH))
    doubt = (trace.gradient_index_sd or 0.0) * ground.chance.normal("pullback gradient")
    inputs = {"total_drop": trace.drop}
    if trace.max_drop_20mm is not None:
        inputs["max_drop_20mm"] = trace.max_drop_20mm
    if trace.diseased_share is not None:
        inputs["diseased_share"] = trace.diseased_share
    return give(
        ABOUT, Quantity(value=trace.gradient_index, parts={"pressure": doubt}), inputs=inputs,
        notes=(f"Measured: {trace.state}.",),
        where=Where(windows_s=((trace.start_s, trace.end_s),)),
    )  # fmt: skip
