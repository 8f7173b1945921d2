"""Pd above Pa through most of the recording: the columns may have changed places.

Signature: mean Pd exceeds mean Pa by more than height and a usual gauge error can explain, in most
sound beats. Energy is only lost on the way down the vessel. Our choice, decision 0035.
Look-ahead: the beats known so far.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen
from arteriole.recording import Finding
from arteriole.signal import Flags

CODE = "pressures_swapped"
ABOVE = 1.0  # Pd/Pa
SHARE_ABOVE = 0.6  # of the sound beats
LEVEL = 1.008  # median Pd/Pa of all sound beats
HIGH = 1.03  # and its ninth decile: somewhere the wire lies behind a resistance
FEWEST = 40


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return whether Pd lies above Pa for most of the recording; no beat is left out for it."""
    b = scene.beats
    known = sound & np.isfinite(b.pa_mean_mmhg) & np.isfinite(b.pd_mean_mmhg)
    known &= b.pa_mean_mmhg > 0.0
    if int(known.sum()) < FEWEST:
        return Seen(code=CODE)
    ratio = b.pd_mean_mmhg[known] / b.pa_mean_mmhg[known]
    share, level = float(np.mean(ratio > ABOVE)), float(np.median(ratio))
    if share < SHARE_ABOVE or level < LEVEL or float(np.quantile(ratio, 0.9)) < HIGH:
        return Seen(code=CODE)
    start, end = float(b.start_s[known][0]), float(b.end_s[known][-1])
    return Seen(
        code=CODE,
        findings=(Finding(
            code=CODE, severity="caution", channel="pd", start_s=start, end_s=end,
            message=f"Mean Pd lies above mean Pa in {100.0 * share:.0f} % of the beats (median "
            f"Pd/Pa {level:.2f}): Pa and Pd may be swapped, or the gauges are off.",
            do="Look which column is the guide's; name them with --map pa=COLUMN --map pd=COLUMN.",
        ),),
    )  # fmt: skip
