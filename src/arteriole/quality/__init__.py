"""What is wrong where: one file is one detector; ``DETECTORS`` lists them, worst cause first."""

from collections.abc import Callable

from arteriole.quality import clipped, ectopy, lost, open_to_air, pa_disturbed
from arteriole.quality.grade import merged
from arteriole.quality.quality import Quality, Span
from arteriole.quality.scene import Scene, Seen, look
from arteriole.signal import Beats, Grid

#: Every detector; the first that harms a beat names its cause.
DETECTORS: tuple[Callable[[Scene], Seen], ...] = (
    lost.detect,
    open_to_air.detect,
    pa_disturbed.detect,
    clipped.detect,
    ectopy.detect,
)


def grade(grid: Grid, beats: Beats) -> Quality:
    """Return what every detector says of the beats and stretches of a recording."""
    scene = look(grid, beats)
    return merged(scene, [detect(scene) for detect in DETECTORS])


__all__ = ["DETECTORS", "Quality", "Scene", "Seen", "Span", "grade"]
