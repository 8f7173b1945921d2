"""Section: the notes, findings that change no number's standing."""

from dataclasses import replace

from arteriole.report.checks import findings
from arteriole.report.tree import Block, Section
from arteriole.study.result import Result

#: How many notes a full sheet still shows; the rest is counted and stands in the document.
FEWER = (8, 4, 0)


def section(result: Result) -> Section:
    """Return the notes; cautions and stops stand with the checks on page one."""
    notes = [f for f in result.findings if f.severity == "note"]
    blocks: tuple[Block, ...] = ()
    if notes:
        whole = findings(notes)
        shorter = tuple(
            replace(
                whole, rows=whole.rows[:n], shorter=(),
                caption=f"Findings, and {len(notes) - n} more notes in the result document"
                if n
                else f"{len(notes)} notes stand in the result document",
            )
            for n in FEWER
            if n < len(notes)
        )  # fmt: skip
        blocks = (replace(whole, shorter=shorter),)
    return Section(key="remarks", heading="Notes on the recording", blocks=blocks, page=2)
