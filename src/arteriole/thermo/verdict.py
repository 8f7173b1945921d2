"""One verdict per injection, with its reason in under eight words.

A verdict needs the reading of the injection itself and, for likeness and shared shapes, the others
of its state. Nothing is deleted here: a verdict only says what a person should look at.
"""

from collections.abc import Sequence
from math import hypot
from typing import Protocol

import numpy as np

from arteriole.recording.mark import Verdict
from arteriole.recording.settings import Settings
from arteriole.thermo.curve import BolusReading

# Limits of one curve; all our choice, decision 0053, where no source stands.
SLOW_S, VERY_SLOW_S = 1.1, 1.4  # a brisk hand injection of 3 mL takes 0.4-0.9 s; from memory
LOST_LONG_S = 2.6  # Pa away this long without a shaft channel: the injection dragged on
FIT_LONG_S = 0.9  # as the curve's own fit places it, drawn towards 0.6 s
RISE_LONG_S = 0.9  # distal rise 10-90 % without a shaft channel
#: Saline itself raises flow for a while; at rest 15-20 s are asked for, common practice, no source.
EARLY_REST_S, VERY_EARLY_REST_S = 14.0, 10.0
EARLY_HYPER_S, VERY_EARLY_HYPER_S = 8.0, 6.0
SLOPE_C_S = 0.02  # baseline before the injection, common practice, no source
NOISE_PEAKS = 5.0  # peak against noise, common practice, no source
#: Peak, or peak and area, against the median of its state; a third to a half of the volume gives
#: about 0.6 of peak and area, whole ones stay above; decision 0012.
SMALL_SHARE, SMALL_BOTH = 0.35, (0.72, 0.62)
TAIL_SHARE = 0.20  # extrapolated share of the area, common practice, no source
FIT_ERROR = 0.06  # rms residual, share of the peak
UNEVEN_SHAFT = 0.02  # rms residual of the shaft, share of its drop
#: Time zero known no better than this share of Tmn, or only from a push on Pd: distance alone is no
#: ground for "repeat" unless so many times larger and beyond so many SDs of placing; decision 0055.
UNSEEN_SHARE, FAR_TIMES, FAR_SDS = 0.10, 2.0, 5.0
DRAGGED = "may have been injected slowly"
MISSING = 0.05  # share of lost temperature samples

Graded = tuple[Verdict, tuple[str, ...]]

_RANK: dict[Verdict, int] = {"usable": 0, "look again": 1, "repeat": 2, "left out": 3}
_UNREADABLE = {
    "small": "no temperature drop seen",
    "lost": "temperature lost",
    "too_short": "too little recorded around it",
    "zero_unclear": "time zero lies after the curve",
}


class StateStretch(Protocol):
    """A stretch of the hyperaemia line."""

    @property
    def start_s(self) -> float:
        """Return its start, s."""

    @property
    def end_s(self) -> float:
        """Return its end, s."""

    @property
    def state(self) -> str:
        """Return building, steady, fading or not reached."""


def grade_injections(
    readings: Sequence[BolusReading],
    phases: Sequence[str],
    settings: Settings,
    hyperaemia_states: Sequence[StateStretch] | None = None,
    *,
    wire_moved_s: Sequence[float] = (),
    other_boluses_s: Sequence[float] = (),
) -> tuple[Graded, ...]:
    """Return verdict and reasons of every injection, in the order given.

    Parameters
    ----------
    readings : Sequence[BolusReading]
        Injections in time order.
    phases : Sequence[str]
        "rest" or "hyperaemia" for each.
    settings : Settings
        ``alike_fraction`` and ``repeat_fraction`` of the median Tmn are used.
    hyperaemia_states : Sequence[StateStretch] | None
        The steadiness line, or None where it is not known.
    wire_moved_s : Sequence[float]
        Times at which the wire moved, s.
    other_boluses_s : Sequence[float]
        Priming injections and flushes, s; an effect of theirs may not be over.
    """  # fmt: skip
    graded: list[Graded] = []
    for k, reading in enumerate(readings):
        reasons = _set_reasons(readings, phases, k, other_boluses_s)
        if not any(verdict == "repeat" for verdict, _ in reasons):  # else the rest follows from it
            reasons += _own(reading, phases[k])
        if hyperaemia_states is not None and phases[k] == "hyperaemia":
            reasons += _hyperaemia(reading, hyperaemia_states)
        if any(m < reading.end_s for m in wire_moved_s) and any(
            r.time_s < m for r in readings for m in wire_moved_s
        ):
            reasons.append(("look again", "wire moved before it"))
        graded.append(_sum_up(reasons))
    final: list[Graded] = []
    for k, (verdict, phrases) in enumerate(graded):
        alike = _likeness(readings, phases, graded, k, settings)
        final.append(_sum_up([(verdict, phrase) for phrase in phrases] + alike))
    return tuple(final)


def _sum_up(reasons: Sequence[tuple[Verdict, str]]) -> Graded:
    if not reasons:
        return "usable", ()
    ordered = sorted(reasons, key=lambda r: -_RANK[r[0]])
    seen = dict.fromkeys(phrase for _verdict, phrase in ordered)
    return ordered[0][0], tuple(seen)


def _own(reading: BolusReading, phase: str) -> list[tuple[Verdict, str]]:
    """Return what the curve alone says."""
    if reading.tmn_s is None:
        why = _UNREADABLE.get(reading.faults[0] if reading.faults else "", "no curve could be read")
        return [("repeat", why)]
    del phase
    f, found = reading.features, list[tuple[Verdict, str]]()
    length = f.get("injection_s", 0.0)
    if f.get("shaft_pulses", 1.0) > 1.0:
        found.append(("repeat", "injected in two pushes"))
    elif f.get("shaft_misfit", 0.0) > UNEVEN_SHAFT:
        found.append(("look again", "uneven injection"))
    if length > VERY_SLOW_S:
        found.append(("repeat", f"too slow: {length:.1f} s"))
    elif length > SLOW_S:
        found.append(("look again", f"slow: {length:.1f} s"))
    elif reading.time_zero != "shaft" and (
        f.get("pa_lost_s", 0.0) > LOST_LONG_S
        or f.get("rise_s", 0.0) > RISE_LONG_S
        or f.get("injection_fit_s", 0.0) > FIT_LONG_S
    ):
        found.append(("look again", DRAGGED))
    if abs(f.get("baseline_slope_c_s", 0.0)) > SLOPE_C_S:
        found.append(("look again", "baseline unsteady"))
    if f.get("peak_drop_c", 1.0) < NOISE_PEAKS * f.get("noise_c", 0.0):
        found.append(("repeat", "small against the noise"))
    if f.get("tail_share", 0.0) > TAIL_SHARE or f.get("open_tail", 0.0) > 0.0:
        found.append(("look again", "late tail"))
    if f.get("fit_error", 0.0) > FIT_ERROR:
        found.append(("look again", "shape unlike a bolus"))
    if f.get("clipped_s", 0.0) > 0.0:
        found.append(("look again", "temperature clipped at its coldest"))
    elif f.get("missing", 0.0) > MISSING:
        found.append(("look again", "temperature partly lost"))
    if f.get("pa_missing_before", 0.0) > 0.5:
        found.append(("look again", "Pa lost before it"))
    return found


def _set_reasons(
    readings: Sequence[BolusReading], phases: Sequence[str], k: int, others: Sequence[float]
) -> list[tuple[Verdict, str]]:
    """Return what the neighbours say: too early, smaller than the rest, humps shared or not."""
    reading = readings[k]
    found = _early(readings, phases[k], k, others)
    if reading.tmn_s is None:
        return found
    peers = [r for r, p in zip(readings, phases, strict=True)
             if p == phases[k] and r.tmn_s is not None]  # fmt: skip
    if len(peers) > 1 and _is_small(reading, peers):
        found.append(("look again", "small against the others"))
    if reading.features.get("humps", 1.0) > 1.0 and reading.features.get("shaft_pulses", 1.0) < 2.0:
        if len(peers) > 1 and all(_has_two_paths(r) for r in peers):
            found.append(("usable", "two humps in every curve: kept"))
        else:
            found.append(("look again", "two humps"))
    return found


def _early(
    readings: Sequence[BolusReading], phase: str, k: int, others: Sequence[float]
) -> list[tuple[Verdict, str]]:
    """Return whether the effect of the last bolus or flush was not over."""
    time_s = readings[k].time_s
    before = [s for s in (*(r.time_s for r in readings), *others) if s < time_s - 1.0]
    if not before:
        return []
    gap = time_s - max(before)
    rest = phase == "rest"
    if gap < (VERY_EARLY_REST_S if rest else VERY_EARLY_HYPER_S):
        return [("repeat", f"early: {gap:.0f} s after the last")]
    if gap < (EARLY_REST_S if rest else EARLY_HYPER_S):
        return [("look again", f"early: {gap:.0f} s after the last")]
    return []


def _is_small(reading: BolusReading, peers: Sequence[BolusReading]) -> bool:
    """Return whether peak, or peak and area, are far below the median of their state."""

    def below(name: str, share: float) -> bool:
        usual = float(np.median([r.features.get(name, 0.0) for r in peers]))
        return reading.features.get(name, 0.0) < share * usual

    peak_share, area_share = SMALL_BOTH
    both = below("peak_drop_c", peak_share) and below("area_c_s", area_share)
    return both or below("peak_drop_c", SMALL_SHARE)


def _has_two_paths(reading: BolusReading) -> bool:
    """Return whether a second path shows: as a hump, or as a shoulder that a fit needs it for."""
    return reading.features.get("humps", 1.0) > 1.0 or reading.model.startswith("two paths")


def _hyperaemia(reading: BolusReading, states: Sequence[StateStretch]) -> list[tuple[Verdict, str]]:
    for stretch in states:
        if stretch.start_s <= reading.time_s < stretch.end_s and stretch.state != "steady":
            return [("look again", f"hyperaemia {stretch.state}")]
    return []


def _likeness(
    readings: Sequence[BolusReading],
    phases: Sequence[str],
    graded: Sequence[Graded],
    k: int,
    settings: Settings,
) -> list[tuple[Verdict, str]]:
    """Return the distance from the median of its state where it is too large.

    The median is of curves not already to be repeated; of all where there is none such.
    """
    tmn = readings[k].tmn_s
    peers = [
        (r.tmn_s, g[0]) for r, p, g in zip(readings, phases, graded, strict=True)
        if p == phases[k] and r.tmn_s is not None
    ]  # fmt: skip
    sound = [value for value, verdict in peers if verdict != "repeat"]
    if tmn is None or len(peers) < 2:
        return []
    middle = float(np.median(sound or [value for value, _ in peers]))
    distance = tmn / middle - 1.0
    sd_s = readings[k].sd_s
    placed_sd_s = hypot(sd_s.get("time zero", 0.0), sd_s.get("placing", 0.0))
    unseen = placed_sd_s > UNSEEN_SHARE * tmn or "push_rise_mmhg" in readings[k].features
    dragged = DRAGGED in graded[k][1]  # a second witness: distance need not stand alone
    far = settings.repeat_fraction * (FAR_TIMES if unseen and not dragged else 1.0)
    beyond = not unseen or dragged or abs(tmn - middle) > FAR_SDS * placed_sd_s
    if abs(distance) > far and beyond:
        return [("repeat", f"{100 * distance:+.0f} % from the median")]
    if abs(distance) > settings.alike_fraction:
        return [("look again", f"{100 * distance:+.0f} % from the median")]
    return []
