"""Mean transit time of a state with its doubt by source: what is common to a wire, what is not.

::

    common to all curves   fill of the bore, usual spread of transits, half of wall and tail, lag
    each curve's own       placing of time zero, noise, shape, the other half of wall and tail
    between injections     spread beyond what flow itself does, with Student's factor

What is common does not shrink with the number of injections and partly cancels in a ratio; what is
each curve's own shrinks with its root. Decision 0047.
"""

from collections.abc import Sequence
from math import sqrt

import numpy as np

from arteriole.indices.evidence import InjectionEvidence, State
from arteriole.indices.quantity import Chance, Quantity, floored
from arteriole.recording.channel import Samples

#: Spread of single injections before any is seen, share of Tmn, and how many degrees of freedom
#: that belief is worth; decision 0061.
PRIOR_SPREAD, PRIOR_DEGREES = 0.04, 3.0
#: Of the squared deviation of injections that do not enter the mean, and the most that one counts:
#: how far off a failed injection lies says nothing about the others.
UNUSED_WEIGHT, UNUSED_MOST = 0.5, 0.30
#: Flow itself makes Tmn differ by this share between injections of one state; it is no error of
#: their mean, and published retest noise holds it. A sixteenth of the variance always counts; 0058.
FLOW_SPREAD, LEAST_SPREAD_SHARE = 0.065, 0.25
#: thermo's sources: name in the list of shares, and share of the variance common to all curves.
SOURCES = {
    "time zero": ("time zero", 0.0),
    "fill": ("time zero", 1.0),
    "placing": ("time zero", 1.0),
    "noise": ("noise", 0.0),
    "tail": ("tail", 0.5),
    "model": ("tail", 0.5),
    "shape": ("tail", 0.0),
    "repeatability": ("published repeatability", 0.5),
}
#: Physical transit: the injection's own flow. It raises the pressure at the ostium by some mmHg and
#: with it flow by 2 to 8 % (both simulated models); not corrected, SD common to the states and own.
PUSHED_COMMON, PUSHED_OWN = 0.03, 0.02
#: A transit shorter than a beat meets one part of it: flow swings by about this share of its mean
#: over a beat of this length, seen through an injection of this length, s; from memory, 0047.
SWING, BEAT_S, INJECTION_S = 0.5, 0.85, 0.55
BEAT_LEFT = 0.5  # of that doubt, where the beat was looked at; decision 0057


def relative_spread(injections: Sequence[InjectionEvidence]) -> tuple[float, float]:
    """Return spread of single injections, share of Tmn, and its degrees of freedom.

    Pooled over both states with what is known beforehand. Injections that were read but do
    not enter the mean count half, so leaving one out never narrows the interval to nothing.
    """
    total, degrees = PRIOR_DEGREES * PRIOR_SPREAD**2, PRIOR_DEGREES
    for phase in ("rest", "hyperaemia"):
        every = [i for i in injections if i.phase == phase and i.tmn_s]
        used = [i.tmn_s for i in every if i.usable and i.tmn_s is not None]
        if not used:
            continue
        centre = sum(used) / len(used)
        for one in every:
            assert one.tmn_s is not None
            off = abs(one.tmn_s / centre - 1.0)
            total += off**2 if one.usable else UNUSED_WEIGHT * min(off, UNUSED_MOST) ** 2
        degrees += len(used) - 1
    return (total / degrees) ** 0.5, degrees


def charged_spread(spread: float) -> float:
    """Return the part of the spread that is charged to the reading, share of Tmn."""
    return sqrt(max(spread**2 - FLOW_SPREAD**2, (LEAST_SPREAD_SHARE * spread) ** 2))


def transit(
    used: Sequence[InjectionEvidence], phase: State, spread: tuple[float, float], chance: Chance
) -> Quantity:
    """Return the mean of the injections used, s, with its doubt.

    ``used``: at least one, all read; ``spread``: from :func:`relative_spread`.
    """
    count = len(used)
    centre = float(np.mean([i.tmn_s for i in used if i.tmn_s is not None]))
    deviation, degrees = spread
    parts: dict[str, Samples] = {
        "injection spread": centre * charged_spread(deviation) / count**0.5
        * chance.student(f"spread {phase}", degrees)
    }  # fmt: skip
    for source, (name, common) in SOURCES.items():
        sds = [i.sd_s.get(source, 0.0) for i in used]
        if not any(sds):
            continue
        shared = common**0.5 * sum(sds) / count * chance.normal(f"{source} of the wire")
        own = ((1.0 - common) * sum(sd**2 for sd in sds)) ** 0.5 / count
        part = shared + own * chance.normal(f"{source} {phase}")
        parts[name] = parts[name] + part if name in parts else part
    return floored(Quantity(value=centre, parts=parts))


def physical(
    read: Quantity, lag: Quantity, used: Sequence[InjectionEvidence], phase: State, chance: Chance
) -> Quantity:
    """Return volume over flow just before the injections, s: what is read less lag and fill.

    The cold passes the tip later than the injectate, because the bore warms what leaves it first;
    that delay is taken off with the sensor's lag. Half of what the part of the beat does that a
    short transit meets is taken off (decision 0057); its other half, and what the injection does
    to flow, are not known and widen the interval.
    """
    late_sd = float(np.mean([i.cold_late_sd_s for i in used]))
    left = float(np.mean(physical_times_s(used, lag.value)))
    known = any(i.beat_factor != 1.0 for i in used)
    beat = beat_doubt(left) * (BEAT_LEFT if known else 1.0) / len(used) ** 0.5
    parts = {name: part.copy() for name, part in read.parts.items()}
    parts["lag"] = -lag.parts["lag"]
    if late_sd > 0.0:
        parts["catheter fill"] = -late_sd * chance.normal("catheter fill")
    parts["flow during the injection"] = left * (
        PUSHED_COMMON * chance.normal("pushed")
        + PUSHED_OWN * chance.normal(f"pushed {phase}")
        + beat * chance.normal(f"beat {phase}")
    )
    return floored(Quantity(value=left, parts=parts))


def physical_times_s(used: Sequence[InjectionEvidence], lag_s: float) -> list[float]:
    """Return volume over flow of each injection, s, as far as it can be told from what was read."""
    return [(i.tmn_s - lag_s - i.cold_late_s) * i.beat_factor for i in used if i.tmn_s is not None]


def beat_doubt(transit_s: float) -> float:
    """Return how much one transit differs from that of mean flow by its place in the beat, SD.

    A swing of flow by ``SWING``, averaged over the transit and over the injection: the root mean
    square of a sine times the two averages' damping.
    """
    damped = abs(np.sinc(transit_s / BEAT_S)) * abs(np.sinc(INJECTION_S / BEAT_S))
    return float(SWING / 2.0**0.5 * damped)
