"""An underdamped fluid line: Pa overshoots and swings after each upstroke, Pd does not.

Signature: the 8 to 15 Hz content of Pa, over that of Pd, is high in nearly all beats; a narrowing
raises it only while flow is high, a sound line hardly. Needs Pd. Natural frequency 9 to 14 Hz and
damping 0.1 to 0.2 make it 1.6 to 2.1 in the simulator, sound lines 1.0 to 1.3. Our choice,
decision 0033. Look-ahead: the beats known so far.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen
from arteriole.recording import Finding
from arteriole.signal import Flags
from arteriole.signal.graded import Span

CODE = "pa_ringing"
LOWEST = 0.10  # quantile of the beats that must still swing
SWING = 1.38  # Pa over Pd
SHARE = 0.105  # of Pa's pulse
FEWEST = 20


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return whether Pa rings throughout; shapes are lost, means kept."""
    b = scene.beats
    known = sound & ~b.on_pd & (scene.pd_swing_mmhg > 0.0) & (scene.pa_pulse_mmhg > 0.0)
    known &= scene.pd_pulse_mmhg > 0.3 * scene.pa_pulse_mmhg
    if int(known.sum()) < FEWEST:
        return Seen(code=CODE)
    ratio = scene.pa_swing_mmhg[known] / scene.pd_swing_mmhg[known]
    share = scene.pa_swing_mmhg[known] / scene.pa_pulse_mmhg[known]
    lowest = float(np.quantile(ratio, LOWEST))
    if lowest < SWING or float(np.median(share)) < SHARE:
        return Seen(code=CODE)
    start, end = float(b.start_s[known][0]), float(b.end_s[known][-1])
    return Seen(
        code=CODE,
        spans=(Span(code=CODE, channel="pa", start_s=start, end_s=end),),
        findings=(Finding(
            code=CODE, severity="caution", channel="pa", start_s=start, end_s=end,
            message=f"Pa swings after each upstroke: its 8-15 Hz content is {lowest:.1f} times "
            "Pd's or more. Systolic peaks read high; means stand.",
            do="Shorten the line, remove small bubbles and stopcocks, flush, and record again.",
        ),),
        shape_bad=known,
    )  # fmt: skip
