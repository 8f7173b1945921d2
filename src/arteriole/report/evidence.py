"""Section: the pictures: strips, interval bars, dilution curves, pullback."""

import re
from html import unescape

from arteriole.figure import (
    Measured,
    dilution_curves,
    interval_bars,
    pullback_line,
    session_strips,
)
from arteriole.report.tree import Block, Paragraph, Picture, Section
from arteriole.study.result import Result

BARS = "Bars: 95 % intervals; full upright: the deciding line; dashed: other published lines."
CURVES = (
    "Pale line: temperature drop as recorded, °C; full line: fitted bolus (dashed at rest); thick: "
    "extrapolated tail; dotted: slow wall part; dashed upright: time zero; tick: Tmn."
)


def section(result: Result, signals: Measured) -> Section:
    """Return every picture the study has material for."""
    blocks: list[Block] = [_picture(session_strips(result, signals))]
    for svg, words in (
        (interval_bars(result), BARS),
        (dilution_curves(result), CURVES),
        (pullback_line(result), result.pullback.sentence if result.pullback else ""),
    ):
        if svg is not None:
            blocks += [_picture(svg), Paragraph(words=words, weight="small")]
    return Section(key="evidence", heading="Traces and curves", blocks=tuple(blocks), page=2)


def _picture(svg: str) -> Picture:
    found = re.search(r'aria-label="([^"]*)"', svg)
    return Picture(svg=svg, alt=unescape(found.group(1)) if found else "drawing")
