"""Section: the smallest changes that would turn the statement, and what would narrow the doubt."""

from arteriole.interpret.flip_offset import LARGEST_DRIFT_MMHG
from arteriole.interpret.reading import BOUND
from arteriole.report.tree import Block, Bullets, Section
from arteriole.report.words import typeset
from arteriole.study.result import Result

NO_ACT = "Next act: nothing that was tried narrows a deciding number near its line by 5 % or more."
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
    offset = f"a gauge offset up to {LARGEST_DRIFT_MMHG:g} mmHg"
    tried = (
        ("Pd reading", offset, pressures and not _pd_unknown(result)),
        ("injection", *_single(result)),
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


def in_doubt(result: Result) -> bool:
    """Return whether a ground of the statement is near its line, a bound, or none is enough."""
    open_words = ("near the line", BOUND)
    return result.statement.pattern == "cannot say" or any(
        word in ground for ground in result.statement.because for word in open_words
    )


def _pd_unknown(result: Result) -> bool:
    """Return whether a typed resistance has no Pd that an offset could move it by."""
    rows = {i.key: i for i in result.indices if i.value is not None}
    typed = [i for i in rows.values() if i.method != "pressure" and not i.inputs]
    return bool(typed) and "ffr" not in rows and "hyperaemia" not in result.haemodynamics


def _single(result: Result) -> tuple[str, bool]:
    """Return which injections were left out or taken in: the only one of a state never is."""
    words = {"rest": "at rest", "hyperaemia": "in hyperaemia"}
    read = [i for i in result.injections if i.tmn_s is not None]
    used = [i for i in read if i.verdict in {"usable", "look again"}]
    there = [p for p in words if any(i.phase == p for i in read)]
    lone = [p for p in there if sum(i.phase == p for i in used) == 1]
    left = [p for p in there if p not in lone]
    where = f" {words[left[0]]}" if lone and left else ""
    return f"any single injection{where}", bool(left)


def section(result: Result) -> Section:
    """Return flips and next acts, each with its gain and cost."""
    rows = [
        f"{typeset(f.what)}: {typeset(f.smallest_change)} would give {f.would_become}."
        for f in result.flips
    ]
    if untouched(result):
        rows.append(f"Not turned by: {'; '.join(untouched(result))}.")
    rows += [f"{a.do.rstrip('. ')}: {a.gain}" for a in result.next_acts]
    measured = any(i.value is not None for i in result.indices) and in_doubt(result)
    if measured and not result.next_acts and result.recording.format != "typed":
        rows.append(NO_ACT)  # of typed numbers no act was tried
    blocks: tuple[Block, ...] = (fewer(rows, FEWER, "in the result document"),) if rows else ()
    heading = "What would turn or firm the statement"
    return Section(key="doubt", heading=heading, blocks=blocks, page=2)
