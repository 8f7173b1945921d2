"""The gauges' error at the time of rest: taken off, left in with its doubt, or unknowable.

Rest lies between equalisation and check. Two checks that agree prove the offset constant, and a
step of the gauge that was seen tells which of the two held at rest, so an offset beyond the line is
taken off then. Checks that part, or one that is missing, leave it open
what held at rest; beyond ``gauge_repeat_mmhg`` nothing is given then. Decisions 0025, 0093.
"""

from dataclasses import dataclass, field
from typing import Final

from arteriole.indices.evidence import Pressures
from arteriole.indices.ground import Ground
from arteriole.indices.index import Withheld
from arteriole.indices.quantity import Quantity, floored
from arteriole.recording.channel import Samples

CORRECTED: Final = "equalisation offset"
UNKNOWN: Final = (
    "The gauges were {mmhg:+.1f} mmHg apart at the guide tip ({which}), and {why}: "
    "what the offset was at rest is not known."
)
AGAIN: Final = "Equalise and record rest again, with a check at the guide tip at the end."


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRest:
    """Pd and Pa of rest with their doubt; ``removed_mmhg``: taken off Pd, None = as read.

    ``corrected_for`` names it.
    """

    pd: Quantity
    pa: Quantity
    removed_mmhg: float | None = None
    corrected_for: tuple[str, ...] = ()
    inputs: dict[str, float] = field(default_factory=dict)


def pressures_at_rest(ground: Ground, rest: Pressures) -> AtRest | Withheld:
    """Return the pressures of rest, with an offset taken off that both checks show, or why not."""
    start, end = ground.evidence.equalisation, ground.evidence.drift
    line = ground.evidence.settings.drift_off_mmhg
    first, last = start.offset_mmhg, end.offset_mmhg
    agree = first is not None and last is not None and abs(last - first) <= line
    stepped = ground.evidence.step is not None and first is not None and last is not None
    if not agree and not stepped:
        repeat = ground.evidence.settings.gauge_repeat_mmhg
        refusal = _unknowable(first, last, repeat)
        # numbers of an old report: nobody writes down an equalisation that went well
        if first is None and ground.evidence.beats is None:
            refusal = None
        if refusal is not None:
            return refusal
    pd, pa = ground.pressure_pair(rest, "rest")
    own = {k: v for k, v in pd.parts.items() if k != "drift"}
    if first is None:
        return AtRest(pd=pd, pa=pa)  # the doubt is that of an offset left in
    if last is None:
        still = ground.gauge_doubt(start, "equalisation") + pa.value * ground.unchecked()
        drift: Samples = -(first + still)
        return AtRest(pd=floored(Quantity(value=pd.value, parts={**own, "drift": drift})), pa=pa)
    offset = _stepped(ground, rest) if stepped else _course(ground, rest.middle_s, first, last)
    if (agree and abs(first) > line) or (stepped and abs(offset.value) > line):
        left = Quantity(
            value=pd.value - offset.value, parts={**own, "drift": -offset.parts["drift"]}
        )
        name, key = ("drift", "offset_mmhg") if stepped else (CORRECTED, "equalisation_offset_mmhg")
        return AtRest(
            pd=floored(left), pa=pa, removed_mmhg=offset.value, corrected_for=(name,),
            inputs={key: offset.value, "as_read": pd.value / pa.value},
        )  # fmt: skip
    drift = -(offset.value + offset.parts["drift"])
    return AtRest(pd=floored(Quantity(value=pd.value, parts={**own, "drift": drift})), pa=pa)


def _unknowable(first: float | None, last: float | None, repeat_mmhg: float) -> Withheld | None:
    if first is not None and abs(first) > repeat_mmhg:
        why = "there was no check at the end" if last is None else f"{last:+.1f} mmHg at the end"
        said = UNKNOWN.format(mmhg=first, which="equalisation", why=why)
        return Withheld(reason=said, do=AGAIN)
    if first is None and last is not None and abs(last) > repeat_mmhg:
        why = "no equalisation was seen"
        return Withheld(reason=UNKNOWN.format(mmhg=last, which="at the end", why=why), do=AGAIN)
    return None


def _stepped(ground: Ground, rest: Pressures) -> Quantity:
    """Return the offset at rest where a step tells what it was."""
    offset = ground.offset_at(rest.middle_s, rest.windows_s)
    assert offset is not None
    return offset


def _course(ground: Ground, time_s: float | None, first: float, last: float) -> Quantity:
    """Return the offset at a time: the value if it grew evenly, the doubt from all that may be."""
    start, end = ground.evidence.equalisation, ground.evidence.drift
    early, late = ground.gauge_doubt(start, "equalisation"), ground.gauge_doubt(end, "drift check")
    passed = ground.share_at(time_s)
    share = 0.5 if passed is None else passed
    moved = (ground.came(share) - share) * (last - first)
    return Quantity(
        value=first + share * (last - first),
        parts={"drift": moved + (1.0 - share) * early + share * late},
    )
