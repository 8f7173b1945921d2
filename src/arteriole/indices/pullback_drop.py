"""Pullback drop: how much Pd/Pa rises from the far end to the guide."""

from typing import Any, Final

from arteriole.indices.about import About, Where, give, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.ground import ground_of
from arteriole.indices.index import Cutoff, Index, Method, Withheld
from arteriole.indices.quantity import Quantity

KEY: Final = "pullback_drop"
LABEL: Final = "pullback drop"
UNIT: Final = "1"
METHOD: Final[Method] = "pressure"
SOURCE: Final = "[Collet2019]"
FORMULA: Final = "Pd/Pa at the guide - Pd/Pa at the far end of the pullback"
DECIMALS: Final = 2
CUTOFFS: tuple[Cutoff, ...] = ()
ABOUT: Final = About(
    key=KEY, label=LABEL, unit=UNIT, method=METHOD, source=SOURCE, text=FORMULA,
    cutoffs=CUTOFFS, decimals=DECIMALS,
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
    typed = ground.typed(KEY)
    if typed is not None:
        return give(ABOUT, typed, inputs={}, notes=("As typed.",))
    if trace is None:
        return withhold(ABOUT, ground.why(KEY, "pullback", otherwise=NO_PULLBACK))
    drop = Quantity(
        value=trace.drop, parts={"pressure": trace.drop_sd * ground.chance.normal("pullback")}
    )
    return give(
        ABOUT, drop, inputs={"drop": trace.drop}, notes=(f"Measured: {trace.state}.",),
        where=Where(windows_s=((trace.start_s, trace.end_s),)),
    )  # fmt: skip
