"""When the injectate passes the tip, by the shaft and by the push on Pd together.

The shaft's sensor lies before the tip, by a volume nobody measured, and sees the bore and not the
push; so its time zero is off by about a hundredth of a second, by the same for every injection of a
wire. The push on Pd has no such fault but scatters more. Their mean difference over all injections
of a recording moves the shaft's time zero. When the cold passes stays the shaft's word, but for the
way from its sensor to the tip. Decision 0058.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot

from arteriole.thermo.curve import BolusReading

#: What the shaft's time zero may be off by, common to a wire, s: it was 0.014 s either way in two
#: simulated models; and what one difference from the push scatters by, s. Decision 0058.
SHAFT_SD_S, DIFFERENCE_SD_S = 0.014, 0.010
PUSH_SD_S = 0.004  # what all pushes of a recording share, s; decision 0055
LEAST = 3  # fewer pushes seen say too little of a wire; our choice, decision 0058
FARTHEST_S = 0.06  # a push farther from the shaft's is another event; decision 0058
#: From the shaft's sensor to the tip, s: the cold came this much later in two simulated models.
ON_THE_WAY_S = 0.012


@dataclass(frozen=True, slots=True, kw_only=True)
class TipOffset:
    """By how much the injectate passes later than the shaft says, with what stays unknown, s."""

    late_s: float
    sd_s: float


def tip_offset(readings: Sequence[BolusReading]) -> TipOffset | None:
    """Return the offset of a recording; None where too few pushes were seen."""
    seen = [
        r.features["push_late_s"] for r in readings
        if r.time_zero == "shaft" and abs(r.features.get("push_late_s", FARTHEST_S)) < FARTHEST_S
    ]  # fmt: skip
    if len(seen) < LEAST:
        return None
    known = len(seen) / DIFFERENCE_SD_S**2
    weight = known / (known + 1.0 / SHAFT_SD_S**2)
    return TipOffset(
        late_s=weight * sum(seen) / len(seen),
        sd_s=hypot((known + 1.0 / SHAFT_SD_S**2) ** -0.5, PUSH_SD_S),
    )  # fmt: skip


def at_the_tip(reading: BolusReading, offset: TipOffset | None) -> BolusReading:
    """Return the reading with the shaft's time zero moved; others as they are."""
    if reading.time_zero != "shaft" or reading.tmn_s is None or reading.zero_s is None:
        return reading
    features = dict(reading.features)
    features["cold_late_s"] = features["cold_late_s"] + ON_THE_WAY_S
    if offset is None:
        return replace(reading, features=features)
    if reading.tmn_s <= offset.late_s:
        return reading
    features["cold_late_s"] = features["cold_late_s"] - offset.late_s
    return replace(
        reading, zero_s=reading.zero_s + offset.late_s, tmn_s=reading.tmn_s - offset.late_s,
        sd_s=dict(reading.sd_s) | {"fill": offset.sd_s}, features=features,
    )  # fmt: skip
