"""Results and signals become SVG, nothing else. Colours come from classes, see ``svg.PRINT``."""

from arteriole.figure.curves import MOST_CURVES, dilution_curves, few_curves
from arteriole.figure.intervals import interval_bars
from arteriole.figure.pullback import pullback_line
from arteriole.figure.strips import Measured, session_strips
from arteriole.figure.svg import standalone

__all__ = [
    "MOST_CURVES", "Measured", "dilution_curves", "few_curves", "interval_bars", "pullback_line",
    "session_strips", "standalone",
]  # fmt: skip
