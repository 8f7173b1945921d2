"""A damped fluid line: air, clot, kink or thick contrast rounds Pa off and makes it late.

Signature per beat, against this recording's own sharp beats: the steepest rise, as a share of the
pulse, falls; Pa's upstroke comes later after Pd's, which shares nothing with the line. When all
beats are damped the lateness itself and a Pa rounder than Pd tell. A line of second order keeps the
mean, so damped beats keep their whole-beat means and lose their shape. Thresholds: our choice,
decision 0033, tuned on simulated seeds below 200. Look-ahead: two beats; the sharp beats are
those known so far.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, spans_of_beats, usual
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags

CODE = "pa_damped"
SHARP_QUANTILE = 0.90  # of the running sharpness: this recording's sharp beats
LIKE_SHARP = 0.85  # of it: a beat that gives the usual lag
LOSS_AT, LOSS_PER = 0.42, 0.06  # -ln(sharpness / sharp beats): even odds, and per unit of logit
LATE_AT_S, LATE_PER_S = 0.020, 0.006  # later than the sharp beats: even odds, per unit of logit
LATE_SHARE = 0.7  # weight of lateness beside sharpness
MOST = 5.0  # logit: one sign alone never outvotes everything
ALL_LATE_S = 0.030  # a sound line delays by 5 to 15 ms
ALL_ROUND = 0.75  # Pa's sharpness over Pd's
FEWEST = 20  # beats that make a reference
RUN = 5  # beats of which most must agree
SMALL_PULSE_MMHG = 8.0
COUNTS_S = 3.0  # shorter stretches are a note


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return damped beats: shape lost, means kept."""
    b = scene.beats
    known = sound & ~b.on_pd & (scene.pa_pulse_mmhg > SMALL_PULSE_MMHG)
    known &= np.isfinite(scene.pa_sharp_hz)
    if int(known.sum()) < FEWEST:
        return Seen(code=CODE)
    logit = _against_own(scene, known)
    whole = _wholly(scene, known)
    if whole:
        logit = np.where(known, MOST, np.nan)
    likely = usual(logit, RUN)
    flags = np.asarray(known & (likely > 0.0))
    probability = np.nan_to_num(1.0 / (1.0 + np.exp(-np.clip(likely, -30.0, 30.0))))
    probability = np.where(known, probability, 0.0)
    spans = spans_of_beats(CODE, "pa", flags, b, join_s=6.0)
    spans = tuple(s for s in spans if s.end_s - s.start_s >= 1.0)
    findings = tuple(
        Finding(
            code=CODE, severity="caution" if s.end_s - s.start_s >= COUNTS_S else "note",
            channel="pa", start_s=s.start_s, end_s=s.end_s,
            message=f"Pa is damped for {s.end_s - s.start_s:.0f} s: upstroke rounded"
            + (" over the whole recording" if whole else " against this recording's own beats")
            + ". Means stand; ratios within the beat do not.",
            do="Flush the line, look for air, a kink or thick contrast, and record again.",
        )
        for s in spans
    )  # fmt: skip
    return Seen(
        code=CODE, spans=spans, findings=findings, shape_bad=flags, probability=probability
    )  # fmt: skip


def _against_own(scene: Scene, known: Flags) -> Samples:
    sharp = np.where(known, scene.pa_sharp_hz, np.nan)
    best = float(np.nanquantile(usual(sharp, 9), SHARP_QUANTILE))
    loss = -np.log(np.maximum(sharp / best, 1e-3))
    logit = np.clip((loss - LOSS_AT) / LOSS_PER, -MOST, MOST)
    lag = np.where(known, scene.lag_s, np.nan)
    like = known & (sharp > LIKE_SHARP * best) & np.isfinite(lag)
    if int(like.sum()) >= FEWEST:
        late = lag - float(np.median(lag[like]))
        weight = np.clip((late - LATE_AT_S) / LATE_PER_S, -MOST, MOST)
        logit = logit + LATE_SHARE * np.nan_to_num(weight)
    return np.asarray(logit)


def _wholly(scene: Scene, known: Flags) -> bool:
    """Return whether even the sharpest tenth of the beats is late and rounder than Pd."""
    both = known & np.isfinite(scene.lag_s) & (scene.pd_pulse_mmhg > SMALL_PULSE_MMHG)
    if int(both.sum()) < FEWEST:
        return False
    late = float(np.quantile(scene.lag_s[both], 1.0 - SHARP_QUANTILE))
    rounder = scene.pa_sharp_hz[both] / np.maximum(scene.pd_sharp_hz[both], 1e-6)
    return late > ALL_LATE_S and float(np.quantile(rounder, SHARP_QUANTILE)) < ALL_ROUND
