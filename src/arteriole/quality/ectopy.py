"""Extra beats and the beat after them; in atrial fibrillation none are called extra.

Signature: a beat that comes early (under 82 % of the beats around) and is followed by a pause or
has a pulse unlike the beats around. The rhythm is called irregular throughout where successive
lengths differ by more than 12 % in the median. Rule of 20 %: science of beat exclusion, common
practice; our choice, decision 0034. Look-ahead: two beats (the rhythm: ``RHYTHM`` / 2 beats).
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, pulse_over_usual, spans_of_beats, usual
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags

CODE = "ectopy"
AF_CODE = "rhythm_irregular"
EARLY = 0.82
PAUSE = 1.12
HIDDEN = 1.40  # a beat this long holds one that gave no pulse
DEEPER_MMHG = 2.0  # a pause lets Pa fall below the usual diastolic
PULSE_OFF = 0.80  # of the usual pulse: an early beat ejects less
RHYTHM = 41  # beats over which irregularity is judged
IRREGULAR = 0.10  # median |change of ln length|; AF lies at 0.15 and above, sinus under 0.05
FEW = 3  # extra beats that make a caution


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return extra and post-ectopic beats as not regular."""
    b = scene.beats
    if b.count < FEW:
        return Seen(code=CODE)
    length = b.length_s
    near = np.append(np.abs(b.start_s[1:] - b.end_s[:-1]) < 0.5 * length[:-1], False)
    change = np.abs(np.diff(np.log(length), append=np.nan))
    change[~near] = np.nan
    irregular = _filled(usual(change, RHYTHM)) > IRREGULAR
    share = length / usual(length)
    nxt = np.append(share[1:], np.nan)
    pulse = np.where(b.on_pd, scene.pd_pulse_mmhg, scene.pa_pulse_mmhg)
    pulse_share = pulse_over_usual(pulse)
    # foot to foot: the short beat is the one *before* the extra beat; the extra beat is long
    early = (share < EARLY) & near & ~irregular & sound & np.append(sound[1:], False)
    weak_next = np.append(pulse_share[1:], np.nan) < PULSE_OFF
    early &= (nxt > PAUSE) | weak_next | (nxt < EARLY)
    odd: Flags = early.copy()
    odd[1:] |= early[:-1]  # the extra beat itself, with its pause
    odd[2:] |= early[:-2]  # the beat after it, stronger than usual
    # an extra beat too early to eject hides in one long beat
    pause = (share > HIDDEN) & near & ~irregular & sound & ~b.on_pd & ~odd & _hides_one(scene)
    odd |= pause
    odd[1:] |= pause[:-1]
    count = int(early.sum()) + int(pause.sum())
    spans = spans_of_beats(CODE, "pa", odd, b, join_s=0.05)
    findings = []
    if count:
        findings.append(Finding(
            code=CODE, severity="caution" if count >= FEW else "note", channel="pa",
            start_s=spans[0].start_s, end_s=spans[-1].end_s,
            message=f"{count} extra beat(s) between {spans[0].start_s:.1f} and "
            f"{spans[-1].end_s:.1f} s.",
            do="Extra beats and the beat after them are left out. Record longer if few are left.",
        ))  # fmt: skip
    if float(irregular.mean()) > 0.3:
        findings.append(Finding(
            code=AF_CODE, severity="note", channel="pa", start_s=float(b.start_s[0]),
            end_s=float(b.end_s[-1]),
            message="The rhythm is irregular from beat to beat, as in atrial fibrillation: "
            f"lengths differ by {100 * float(np.nanmedian(change)):.0f} % from one to the next.",
            do="Average at least ten beats; single beats mean little.",
        ))  # fmt: skip
    return Seen(code=CODE, spans=spans, findings=tuple(findings), irregular=odd)


def _runs_off(scene: Scene) -> Flags:
    """Return which beats end at their lowest, under the usual: blood ran off all the while.

    A closed tap instead keeps Pa where it was.
    """
    b = scene.beats
    last = scene.grid.pa_mmhg[np.clip(b.end_i - 1, 0, scene.grid.samples - 1)]
    deep = b.pa_diastolic_mmhg < usual(b.pa_diastolic_mmhg) - DEEPER_MMHG
    return np.asarray(deep & (last < b.pa_diastolic_mmhg + 0.1 * scene.pa_pulse_mmhg))


def _hides_one(scene: Scene) -> Flags:
    """Return which beats would hold an extra one: the ECG tells, else the run-off does."""
    if scene.r_waves is not None:
        return np.asarray(scene.r_waves >= 2)
    return _runs_off(scene)


def _filled(values: Samples) -> Samples:
    return np.nan_to_num(values, nan=0.0)
