"""Collateral flow index by pressure: what flow the vessel keeps when it is occluded."""

from dataclasses import replace
from typing import Any, Final

from arteriole.indices.about import NO_SIDE, About, Ways, give, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.ground import ground_of
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.indices.occlusion import ASSUMED_CVP_MMHG, below_venous, occluded
from arteriole.indices.quantity import Quantity, combine

ABOUT: Final = About(
    key="collateral_flow_index", label="collateral flow index", unit="1",
    method="pressure", source="[Seiler1998]",
    text="(Pw - CVP) / (Pa - CVP), Pw = coronary occlusion pressure",
    cutoffs=(
        Cutoff(
            name="collateral flow index, sufficient at or above", relation="<", value=0.25,
            source="[Thermal2014]",
        ),
    ),
)  # fmt: skip
CVP_SD_MMHG, ASSUMED_SD_MMHG = 1.0, 3.0  # our choice, decision 0061
NO_OCCLUSION: Final = Withheld(
    reason="No coronary occlusion pressure is on the sheet.",
    do="Enter coronary_occlusion_mmhg if it was measured.",
)
NO_PA: Final = Withheld(
    reason="No clean mean Pa to compare the occlusion pressure with.", do="Mark a clean stretch."
)
NOT_PHYSICAL: Final = Withheld(
    reason="The occlusion pressure is not below Pa.",
    do="Check coronary_occlusion_mmhg on the sheet.",
)


def formula(occlusion_mmhg: Any, pa_mmhg: Any, cvp_mmhg: Any) -> Any:
    """Return the index from its pressures; numbers or draws alike."""
    return (occlusion_mmhg - cvp_mmhg) / (pa_mmhg - cvp_mmhg)


def from_evidence(evidence: Evidence) -> Index:
    """Return the index, or why there is none."""
    ground = ground_of(evidence)
    typed = ground.typed(ABOUT.key)
    if typed is not None:
        return give(ABOUT, typed, inputs={}, notes=("As typed.",))
    wedge, cvp = occluded(ground), evidence.sheet.cvp_mmhg
    if wedge is None:
        return withhold(ABOUT, ground.why(ABOUT.key, otherwise=NO_OCCLUSION))
    pw = wedge.value
    state = ground.plateau() or evidence.rest
    if state is None:
        return withhold(ABOUT, ground.why(ABOUT.key, "rest", "hyperaemia", otherwise=NO_PA))
    _, pa = ground.pressure_pair(state, "plateau")
    assumed = cvp is None
    low = ASSUMED_CVP_MMHG if cvp is None else cvp
    refusal = below_venous(ground, pw) or (NOT_PHYSICAL if pw >= pa.value else None)
    if refusal is not None:
        return withhold(ABOUT, refusal)
    sd = ASSUMED_SD_MMHG if assumed else CVP_SD_MMHG
    venous = Quantity(value=low, parts={"pressure": sd * ground.chance.normal("cvp")})
    about = ABOUT
    shown = {"CVP ignored": formula(pw, pa.value, 0.0)}
    line = ABOUT.cutoffs[0]
    if assumed and formula(pw, pa.value, 0.0) >= line.value > formula(pw, pa.value, 10.0):
        unsure = replace(line, note=f"{NO_SIDE}it hangs on the CVP nobody measured")
        about = replace(ABOUT, cutoffs=(unsure,))
    return give(
        about, combine(formula, wedge, pa, venous), ways=Ways(shown=shown),
        inputs={"occlusion_mmhg": pw, "pa_mmhg": pa.value, "cvp_mmhg": low},
        notes=("CVP was not measured; 5 mmHg is taken.",) if assumed else (),
    )  # fmt: skip
