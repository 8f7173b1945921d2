"""The steadiness line: when hyperaemia builds, is steady, fades."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes.hyperaemia import Hyperaemia, Sign, Stretch
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

LEAST_FALL = 0.006  # of Pd/Pa, above the wandering of means over many beats
ARRIVED = 0.90  # share of the fall at which the plateau begins
BEGUN = 0.10
FADED = 0.25  # share of the fall lost again, for good
AFTER_BOLUS_S = 8.0  # saline raises flow for some seconds; common practice, no source
BEFORE_BOLUS_S = 1.0
SEPARATION_MMHG = 1.0
FALL_SHARE = 0.02  # separation also counts when Pd/Pa fell by this share
WAVE_MMHG = 1.0  # further gap in diastole than over the beat, against rest
NOTCH_LOST = 0.5  # share of the notch that is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """What Pd's wave looked like in one state: pulse and notch, mmHg."""

    pulse_mmhg: float
    notch_mmhg: float


def plateau_from(
    trend: Trend, rest_level: float, search_from_s: float, first_s: float, until_s: float
) -> tuple[float, float] | None:
    """Return (begun, arrived): when the fall began and when the plateau was reached, s.

    ``first_s`` lies on the plateau for certain (first hyperaemic injection, or the middle of the
    lowest stretch). None when Pd/Pa did not fall by ``LEAST_FALL``.
    """
    plateau = trend.between(max(first_s - 10.0, search_from_s), until_s)
    if plateau.time_s.size < 5:
        return None
    low = float(np.median(plateau.level))
    fall = rest_level - low
    if fall < max(LEAST_FALL, trend.noise):
        return None
    way = trend.between(search_from_s, first_s)
    if way.time_s.size < 3:
        return search_from_s, search_from_s
    above = np.flatnonzero(way.level > rest_level - max(BEGUN * fall, 0.5 * trend.noise))
    begun = float(way.time_s[above[-1]]) if above.size else search_from_s
    not_yet = np.flatnonzero(way.level > low + (1.0 - ARRIVED) * fall + 0.7 * trend.noise)
    arrived = float(way.time_s[min(not_yet[-1] + 1, way.time_s.size - 1)]) if (
        not_yet.size) else begun  # fmt: skip
    return begun, max(arrived, begun)


def faded_from(trend: Trend, rest_level: float, arrived_s: float, until_s: float) -> float | None:
    """Return from when a quarter of the fall was lost for good, or None."""
    part = trend.between(arrived_s, until_s)
    if part.time_s.size < 15:
        return None
    low = float(np.percentile(part.level, 30))
    line = low + FADED * (rest_level - low) + 2.0 * trend.noise
    under = np.flatnonzero(part.level < line)
    last = int(under[-1]) if under.size else -1
    if last >= part.time_s.size - 6 or part.time_s[-1] - part.time_s[last] < 8.0:
        return None
    return float(part.time_s[last])


def steady_stretches(
    start_s: float, end_s: float, boluses_s: Sequence[float]
) -> tuple[tuple[float, float], ...]:
    """Return what of a stretch is free of boluses and their wake, s."""
    cuts = sorted((b - BEFORE_BOLUS_S, b + AFTER_BOLUS_S) for b in boluses_s)
    rows: list[tuple[float, float]] = []
    at = start_s
    for a, b in cuts:
        if a > at:
            rows.append((at, min(a, end_s)))
        at = max(at, b)
        if at >= end_s:
            break
    if at < end_s:
        rows.append((at, end_s))
    return tuple((a, b) for a, b in rows if b - a >= 2.0)


def line(
    begun_s: float, arrived_s: float, faded_s: float | None, end_s: float
) -> tuple[Stretch, ...]:
    """Return the states in order."""
    stop = end_s if faded_s is None else min(faded_s, end_s)
    rows = [
        Stretch(start_s=begun_s, end_s=arrived_s, state="building"),
        Stretch(start_s=arrived_s, end_s=stop, state="steady"),
    ]
    if faded_s is not None and faded_s < end_s:
        rows.append(Stretch(start_s=faded_s, end_s=end_s, state="fading"))
    return tuple(r for r in rows if r.end_s > r.start_s)


def signs_of(
    rest: Trend, plateau: Trend, rest_shape: Shapes, plateau_shape: Shapes
) -> tuple[Sign, ...]:
    """Return the published signs with their numbers; rate and pressure are shown, not decisive."""

    def mid(row: Samples) -> float:
        known = row[np.isfinite(row)]
        return float(np.median(known)) if known.size else float("nan")

    apart = mid(plateau.pa_mmhg - plateau.pd_mmhg) - mid(rest.pa_mmhg - rest.pd_mmhg)
    fell = mid(rest.ratio) - mid(plateau.ratio)
    wave = mid(plateau.shape_mmhg) - mid(rest.shape_mmhg)
    lost = None if rest_shape.notch_mmhg <= 0 else (
        1.0 - (plateau_shape.notch_mmhg / max(plateau_shape.pulse_mmhg, 1e-6))
        / (rest_shape.notch_mmhg / max(rest_shape.pulse_mmhg, 1e-6)))  # fmt: skip
    source = "[WireMarkers2018]"
    rate = 100.0 * (mid(plateau.rate_bpm) / mid(rest.rate_bpm) - 1.0)
    rows = (
        Sign(name="distal wave ventricularised", present=wave < -WAVE_MMHG, value=wave, unit="mmHg",
             source=source),
        Sign(name="distal notch lost", present=None if lost is None else lost > NOTCH_LOST,
             value=lost, unit="1", source=source),
        Sign(name="mean pressures apart", present=apart > SEPARATION_MMHG or fell > FALL_SHARE,
             value=apart, unit="mmHg", source=source),
        Sign(name="heart rate", present=rate >= 10.0, value=rate, unit="%", decisive=False,
             source=source),
        Sign(name="aortic pressure", present=mid(plateau.pa_mmhg) < 0.95 * mid(rest.pa_mmhg),
             value=mid(plateau.pa_mmhg) - mid(rest.pa_mmhg), unit="mmHg", decisive=False,
             source=source),
    )  # fmt: skip
    return tuple(
        s if s.value is None or np.isfinite(s.value) else replace(s, value=None, present=None)
        for s in rows
    )


def summed_up(states: tuple[Stretch, ...], plateau: Trend, signs: tuple[Sign, ...]) -> Hyperaemia:
    """Return the hyperaemia of the study from its line, plateau and signs."""
    steady = [s for s in states if s.state == "steady"]
    swing = dispersion = None
    if plateau.level.size > 5:
        swing = float(np.percentile(plateau.level, 97.5) - np.percentile(plateau.level, 2.5))
        middle = float(np.median(plateau.ratio))
        dispersion = float(100.0 * np.mean(np.abs(plateau.ratio - middle)) / middle)
    return Hyperaemia(
        state="steady" if steady else (states[-1].state if states else "not reached"),
        states=states,
        start_s=steady[0].start_s if steady else None,
        end_s=steady[-1].end_s if steady else None,
        signs=signs, range_ratio=swing, dispersion_percent=dispersion,
        submaximal=sum(bool(s.present) for s in signs if s.decisive) == 0,
    )  # fmt: skip
