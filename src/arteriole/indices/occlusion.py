"""The coronary occlusion pressure of the sheet: its doubt, and when it allows no index."""

from typing import Final

from arteriole.indices.ground import Ground
from arteriole.indices.index import Withheld
from arteriole.indices.quantity import Quantity, combine

OCCLUSION_SD_MMHG: Final = 2.0  # read off a sheet to about this; our choice, decision 0061
ASSUMED_CVP_MMHG: Final = 5.0  # taken where CVP is not measured [Seiler1998]
CHECK: Final = "Check coronary_occlusion_mmhg"


def occluded(ground: Ground) -> Quantity | None:
    """Return the occlusion pressure with its doubt, None where it is not on the sheet."""
    pw = ground.evidence.sheet.coronary_occlusion_mmhg
    if pw is None:
        return None
    doubt = OCCLUSION_SD_MMHG * ground.chance.normal("occlusion")
    return Quantity(value=pw, parts={"pressure": doubt})


def below_venous(ground: Ground, pw_mmhg: float) -> Withheld | None:
    """Return a refusal where the occlusion pressure is below the venous one: it cannot be."""
    cvp = ground.evidence.sheet.cvp_mmhg
    low = ASSUMED_CVP_MMHG if cvp is None else cvp
    if pw_mmhg >= low:
        return None
    taken = f"{low:g} mmHg" if cvp is not None else f"{low:g} mmHg as usual, not measured"
    return Withheld(
        reason=f"The occlusion pressure, {pw_mmhg:g} mmHg, is below CVP, {taken}.",
        do=f"{CHECK} and cvp_mmhg on the sheet.",
    )


def too_near(pw: Quantity, pd: Quantity, pa: Quantity) -> Withheld | None:
    """Return a refusal where Pd or Pa does not stand clear of the occlusion pressure."""
    for name, other in (("Pd", pd), ("Pa", pa)):
        said = f"The occlusion pressure, {pw.value:g} mmHg, is"
        if pw.value >= other.value:
            return Withheld(
                reason=f"{said} not below {name}, {other.value:.1f} mmHg.", do=f"{CHECK}."
            )
        if combine(lambda p, w: p - w, other, pw).interval95()[0] <= 0.0:
            return Withheld(
                reason=f"{said} so near to {name}, {other.value:.1f} mmHg, that the gap lies "
                "within its doubt.",
                do=f"{CHECK}.",
            )
    return None
