"""Pullback drop: how much Pd/Pa rises from the far end to the guide."""

from typing import Any, Final

import numpy as np

from arteriole.indices.about import About, Where, give, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.ground import ground_of
from arteriole.indices.index import Index, Withheld
from arteriole.indices.quantity import Quantity

ABOUT: Final = About(
    key="pullback_drop", label="pullback drop", unit="1", method="pressure", source="[Collet2019]",
    text="Pd/Pa at the guide - Pd/Pa at the far end of the pullback",
)  # fmt: skip
NO_PULLBACK: Final = Withheld(
    reason="No pullback was found.", do="Draw the sensor back to the guide, or mark the pullback."
)


def formula(guide_ratio: Any, far_ratio: Any) -> Any:
    """Return the drop between both ends; numbers or draws alike."""
    return guide_ratio - far_ratio


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    ground, trace = ground_of(evidence), evidence.pullback
    typed = ground.typed(ABOUT.key)
    if typed is not None:
        return give(ABOUT, typed, inputs={}, notes=("As typed.",))
    if trace is None:
        return withhold(ABOUT, ground.why(ABOUT.key, "pullback", otherwise=NO_PULLBACK))
    parts = {"pressure": trace.drop_sd * ground.chance.normal("pullback")}
    low, high = trace.drop_beyond
    if high > low:
        # A third each: none of it, all of it (a step), any part between; decision 0097.
        aside = ground.chance.uniform("gauges during the pullback")
        parts["drift"] = low + (high - low) * np.clip(0.5 + 1.5 * aside, 0.0, 1.0)
    drop = Quantity(value=trace.drop, parts=parts)
    return give(
        ABOUT, drop, inputs={"drop": trace.drop}, notes=(f"Measured: {trace.state}.",),
        where=Where(windows_s=((trace.start_s, trace.end_s),)),
    )  # fmt: skip
