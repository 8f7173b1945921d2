"""Arrays in, arrays out: one grid, beats and their landmarks, delay, ratios within the beat."""

from arteriole.signal.align import align
from arteriole.signal.beats import Beats, Flags, Indices
from arteriole.signal.find import find_beats
from arteriole.signal.grid import Grid
from arteriole.signal.r_waves import find_r_waves

__all__ = ["Beats", "Flags", "Grid", "Indices", "align", "find_beats", "find_r_waves"]
