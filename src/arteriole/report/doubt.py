"""Section: the smallest changes that would turn the statement, and what would narrow the doubt."""

from arteriole.interpret.flips import LARGEST_DRIFT_MMHG
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


def untouched(result: Result) -> tuple[str, ...]:
    """Return what was tried and turns nothing; a change that was not tried is not named."""
    pressures = any(i.method == "pressure" and i.value is not None for i in result.indices)
    tried = (
        ("Pd reading", f"a gauge offset up to {LARGEST_DRIFT_MMHG:g} mmHg", pressures),
        ("injection", "any single injection", bool(result.injections)),
        ("reading", "another published reading", True),
        ("rule table", "another rule table", True),
    )
    found = {f.what for f in result.flips} | {f.smallest_change for f in result.flips}
    if all(i.value is None for i in result.indices):
        return ()
    return tuple(
        words for start, words, was in tried
        if was and not any(f.startswith(start) for f in found)
    )  # fmt: skip


def section(result: Result) -> Section:
    """Return flips and next acts, each with its gain and cost."""
    rows = [
        f"{typeset(f.what)}: {typeset(f.smallest_change)} would give {f.would_become}."
        for f in result.flips
    ]
    if untouched(result):
        rows.append(f"Not turned by: {'; '.join(untouched(result))}.")
    rows += [f"{a.do.rstrip('. ')}: {a.gain}" for a in result.next_acts]
    blocks: tuple[Block, ...] = (fewer(rows, FEWER, "in the result document"),) if rows else ()
    heading = "What would turn or firm the statement"
    return Section(key="doubt", heading=heading, blocks=blocks, page=2)
