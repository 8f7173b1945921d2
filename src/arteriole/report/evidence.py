"""Section: the pictures: strips, interval bars, dilution curves, pullback."""

import re
from html import unescape

from arteriole.figure import (
    MOST_CURVES,
    Measured,
    dilution_curves,
    few_curves,
    interval_bars,
    pullback_line,
    session_strips,
)
from arteriole.report.pullback import in_words, steps
from arteriole.report.tree import Block, Picture, Section
from arteriole.study.result import Result

STRIPS = "Pale: every sample; full line: mean of each beat. Dotted rail: rest; double: hyperaemia."
BARS = "Bars: 95 % intervals; full upright: the deciding line; dashed: other published lines."
CURVES = (
    "Temperature drop, °C, over s. Pale: recorded; full: fitted (dashed at rest); thick: "
    "extrapolated tail; dotted: slow wall part; dashed upright: time zero; tick: Tmn."
)
#: Units of a drawing for a whole line of paper and for half of it: 11 units are then about 8.5 pt.
WHOLE, HALF = 680.0, 335.0
FLAT = 0.66  # height of the strips on paper against the screen


def section(result: Result, signals: Measured) -> Section:
    """Return every picture the study has material for."""
    blocks: list[Block] = [
        _picture(
            session_strips(result, signals), session_strips(result, signals, WHOLE, FLAT), STRIPS
        )
    ]
    moved = in_words(result)
    for svg, paper, words in (
        (interval_bars(result), interval_bars(result, HALF), BARS),
        (dilution_curves(result), few_curves(result, HALF), _curves(result)),
        (pullback_line(result), pullback_line(result, HALF), moved),
    ):
        if svg is not None:
            blocks.append(_picture(svg, paper or svg, words, half=True))
    blocks += steps(result)
    return Section(key="evidence", heading="Traces and curves", blocks=tuple(blocks), page=2)


def _curves(result: Result) -> str:
    drawn = sum(i.reading.curve is not None for i in result.injections)
    rest = f" The first {MOST_CURVES} of {drawn} on paper." if drawn > MOST_CURVES else ""
    return CURVES + rest


def _picture(svg: str, paper: str, caption: str, *, half: bool = False) -> Picture:
    found = re.search(r'aria-label="([^"]*)"', svg)
    alt = unescape(found.group(1)) if found else "drawing"
    return Picture(svg=svg, alt=alt, paper=paper, caption=caption, half=half)
