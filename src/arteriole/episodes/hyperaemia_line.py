"""What the steady part of hyperaemia is used for, its published signs, and the sum of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes.hyperaemia import Hyperaemia, Sign, Stretch
from arteriole.episodes.hyperaemia_doubt import Doubt
from arteriole.episodes.hyperaemia_plateau import dispersion_of
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

AFTER_BOLUS_S = 8.0  # saline raises flow for some seconds; common practice, no source
BEFORE_BOLUS_S = 1.0
SEPARATION_MMHG = 1.0
FALL_SHARE = 0.02  # separation also counts when Pd/Pa fell by this share
WAVE_MMHG = 1.0  # further gap in diastole than over the beat, against rest
NOTCH_LOST = 0.5  # share of the notch that is gone
LEAST_NOTCH_MMHG = 0.5  # a smaller rise of the mean wave is no notch; our choice, decision 0095
OPEN_FURTHER = "injections open no further"
OPENED_LINE = 0.15  # of the effect: injections that add more found vessels not fully open; 0037


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes:
    """What Pd's wave looked like in one state: pulse and notch, mmHg; None: too few beats."""

    pulse_mmhg: float
    notch_mmhg: float | None


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
    lost = _notch_lost(rest_shape, plateau_shape)
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


def rise_of(wave: Samples) -> float:
    """Return how far a stretch of a wave, shape (n,), rises after its lowest point so far.

    0 for one that only falls, however steep.
    """
    return float(np.max(wave - np.minimum.accumulate(wave)))


def _notch_lost(rest: Shapes, plateau: Shapes) -> float | None:
    """Return the share of rest's notch that is gone, None where rest had none to lose."""
    before, after = rest.notch_mmhg, plateau.notch_mmhg
    if before is None or after is None or before < LEAST_NOTCH_MMHG:
        return None
    return 1.0 - (after / max(plateau.pulse_mmhg, 1e-6)) / (before / max(rest.pulse_mmhg, 1e-6))


def signs_of_doubt(doubt: Doubt) -> tuple[Sign, ...]:
    """Return what the plateau says beside the published signs: our own, decision 0037."""
    if doubt.verdict == "not seen":
        return ()
    shut = None if doubt.opened is None else (
        doubt.opened < OPENED_LINE and doubt.verdict != "submaximal"
    )  # fmt: skip
    return (
        Sign(name=OPEN_FURTHER, present=shut, value=doubt.opened, unit="1",
             decisive=False),
    )  # fmt: skip


def summed_up(
    states: tuple[Stretch, ...], plateau: Trend, signs: tuple[Sign, ...], doubt: Doubt | None
) -> Hyperaemia:
    """Return the hyperaemia of the study from its line, plateau, signs and doubt.

    ``doubt`` is None where a person marked the hyperaemia: only the swing of Pd/Pa is judged then.
    """
    steady = [s for s in states if s.state == "steady"]
    swing = dispersion = None
    if plateau.level.size > 5:
        swing = float(np.percentile(plateau.level, 97.5) - np.percentile(plateau.level, 2.5))
        dispersion = dispersion_of(plateau.level)
        if doubt is not None and doubt.swing is not None:
            # A gauge that stepped or drifted is no swing.
            swing, dispersion = doubt.swing, doubt.dispersion
    return Hyperaemia(
        state="steady" if steady else (states[-1].state if states else "not reached"),
        states=states,
        start_s=steady[0].start_s if steady else None,
        end_s=steady[-1].end_s if steady else None,
        signs=signs, range_ratio=swing, dispersion_percent=dispersion,
        submaximal=doubt is not None and doubt.verdict == "submaximal",
        unsteady=doubt is not None and doubt.verdict in {"submaximal", "unsteady"},
        wave_s=None if doubt is None else doubt.wave_s,
    )  # fmt: skip
