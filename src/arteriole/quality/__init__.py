"""What is wrong where: one file is one detector; ``DETECTORS`` lists them, worst cause first.

A detector is given the scene and the beats no detector before it holds anything against.
"""

from collections.abc import Callable

import numpy as np

from arteriole.quality import (
    clipped,
    damped,
    ectopy,
    lost,
    open_to_air,
    pa_disturbed,
    ratio_step,
    ringing,
    swapped,
    temp_baseline,
    wedged,
    whip,
)
from arteriole.quality.grade import harmed_by, merged
from arteriole.quality.scene import Scene, Seen, look
from arteriole.signal import Beats, Flags, Grid
from arteriole.signal.graded import Quality, Span

#: Every detector; the first that harms a beat names its cause.
DETECTORS: tuple[Callable[[Scene, Flags], Seen], ...] = (
    lost.detect,
    open_to_air.detect,
    wedged.detect,  # its fall is larger than an injection's, and clipping hides its edges
    pa_disturbed.detect,
    ectopy.detect,  # goes by lengths and feet, which a cut range leaves
    clipped.detect,
    ratio_step.detect,  # needs means only, which the next three leave
    damped.detect,
    whip.detect,  # a wire that strikes the wall would hide a ringing line
    ringing.detect,
    swapped.detect,
    temp_baseline.detect,
)


def grade(grid: Grid, beats: Beats) -> Quality:
    """Return what every detector says of the beats and stretches of a recording."""
    scene = look(grid, beats)
    sound = ~(np.isnan(beats.pa_mean_mmhg) & np.isnan(beats.pd_mean_mmhg))
    seen: list[Seen] = []
    for detect in DETECTORS:
        seen.append(detect(scene, sound))
        sound = sound & ~harmed_by(seen[-1], beats.count)
    return merged(scene, seen)


__all__ = ["DETECTORS", "Quality", "Scene", "Seen", "Span", "grade"]
