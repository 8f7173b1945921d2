"""Results and signals become SVG, nothing else. Colours come from classes, see ``svg.PRINT``."""

from arteriole.figure.curves import dilution_curves
from arteriole.figure.intervals import interval_bars
from arteriole.figure.pullback import pullback_line
from arteriole.figure.strips import Measured, session_strips
from arteriole.figure.svg import standalone

__all__ = [
    "Measured", "dilution_curves", "interval_bars", "pullback_line", "session_strips",
    "standalone",
]  # fmt: skip
