"""Section: the smallest changes that would turn the statement, and what would narrow the doubt."""

from arteriole.report.tree import Block, Bullets, Section
from arteriole.report.words import typeset
from arteriole.study.result import Result

#: How many remarks a full sheet still shows.
FEWER = (6, 4, 3)


def fewer(rows: list[str], counts: tuple[int, ...], where: str) -> Bullets:
    """Return the list, with shorter forms that say how many more there are and where."""
    shorter = tuple(
        Bullets(rows=(*rows[:n], f"and {len(rows) - n} more {where}"))
        for n in counts
        if n < len(rows)
    )
    return Bullets(rows=tuple(rows), shorter=shorter)


def section(result: Result) -> Section:
    """Return flips and next acts, each with its gain and cost."""
    rows = [
        f"{typeset(f.what)}: {typeset(f.smallest_change)} would give {f.would_become}."
        for f in result.flips
    ]
    rows += [f"{a.do.rstrip('. ')}: {a.gain}" for a in result.next_acts]
    blocks: tuple[Block, ...] = (fewer(rows, FEWER, "in the result document"),) if rows else ()
    heading = "What would turn or firm the statement"
    return Section(key="doubt", heading=heading, blocks=blocks, page=2)
