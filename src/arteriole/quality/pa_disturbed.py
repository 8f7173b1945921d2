"""Flush or injection on the line: Pa loses its pulse, lies flat or high, or is spiked.

Signature per beat: Pa shows no beat where Pd does; or its pulse is under 40 % or over 180 % of
the beats around; or its mean leaves the beats around by 15 mmHg while Pd's does not; or a "beat"
is shorter than any heart's: a line that is touched throws spikes.
Our choice, decision 0033. Look-ahead: ``scene.NEIGHBOURS / 2`` beats.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, pulse_over_usual, seconds, spans_of_beats, usual
from arteriole.recording import Finding
from arteriole.signal import Flags

CODE = "pa_disturbed"
PULSE_LOW, PULSE_HIGH = 0.40, 1.80
APART_MMHG = 12.0
PD_STAYS = 0.25  # of what Pa moves: where Pd follows further, the aorta or the ostium moved
CANNOT_LOW_MMHG, CANNOT_HIGH_MMHG = 20.0, 250.0  # outside no patient's aorta on this table
SHORTEST_BEAT_S = 0.25  # 240 /min, above any rate on this table; common practice, no source
LONG_S = 12.0  # a disturbance this long is no flush and no bolus


def detect(scene: Scene, _sound: Flags) -> Seen:
    """Return the disturbed beats; a note, for flushes and injections are part of the work."""
    b = scene.beats
    if not b.count:
        return Seen(code=CODE)
    pulse = pulse_over_usual(scene.pa_pulse_mmhg)
    pd_pulse = pulse_over_usual(scene.pd_pulse_mmhg)
    pd_tells = np.isfinite(pd_pulse)
    odd = (pulse < PULSE_LOW) & ~(pd_tells & (pd_pulse < 1.5 * PULSE_LOW))
    odd |= (pulse > PULSE_HIGH) & ~(pd_tells & (pd_pulse > 0.75 * PULSE_HIGH))
    gap = b.pa_mean_mmhg - b.pd_mean_mmhg
    off_gap = np.abs(gap - usual(gap)) > APART_MMHG
    off_pa = np.abs(b.pa_mean_mmhg - usual(b.pa_mean_mmhg))
    off_pd = np.abs(b.pd_mean_mmhg - usual(b.pd_mean_mmhg))
    odd |= off_gap & (off_pa > 0.7 * APART_MMHG) & (off_pd < PD_STAYS * off_pa)
    odd |= (b.pa_systolic_mmhg > CANNOT_HIGH_MMHG) | (b.pa_diastolic_mmhg < CANNOT_LOW_MMHG)
    # a tap opens and closes within a beat: the beats next to it are touched too
    touched = b.on_pd | (b.length_s < SHORTEST_BEAT_S)
    odd |= touched
    odd[1:] |= touched[:-1]
    odd[:-1] |= touched[1:]
    spans = spans_of_beats(CODE, "pa", odd, b)
    findings = []
    if spans:
        longest = max(s.end_s - s.start_s for s in spans)
        findings.append(Finding(
            code=CODE, severity="note", channel="pa", start_s=spans[0].start_s,
            end_s=spans[-1].end_s,
            message=f"Pa is disturbed in {len(spans)} stretch(es), {seconds(spans):.1f} s in all, "
            f"the longest {longest:.1f} s: pulse lost, flat or high, as by a flush or injection.",
            do="These beats are left out. Check that the line is open to the guide afterwards.",
        ))  # fmt: skip
    return Seen(code=CODE, spans=spans, findings=tuple(findings), pa_bad=odd, shape_bad=odd)
