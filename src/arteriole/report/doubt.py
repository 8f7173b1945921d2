"""Section: the smallest changes that would turn the statement, and what would narrow the doubt."""

from arteriole.report.tree import Block, Bullets, Section
from arteriole.report.words import typeset
from arteriole.study.result import Result


def section(result: Result) -> Section:
    """Return flips and next acts, each with its gain and cost."""
    rows = [
        f"{typeset(f.what)}: {typeset(f.smallest_change)} would give {f.would_become}."
        for f in result.flips
    ]
    rows += [f"{a.do.rstrip('. ')}: {a.gain}" for a in result.next_acts]
    blocks: tuple[Block, ...] = (Bullets(rows=tuple(rows)),) if rows else ()
    heading = "What would turn or firm the statement"
    return Section(key="doubt", heading=heading, blocks=blocks, page=2)
