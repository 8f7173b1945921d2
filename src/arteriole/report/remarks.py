"""Section: the notes, findings that change no number's standing."""

from arteriole.report.checks import findings
from arteriole.report.tree import Block, Section
from arteriole.study.result import Result


def section(result: Result) -> Section:
    """Return the notes; cautions and stops stand with the checks on page one."""
    notes = [f for f in result.findings if f.severity == "note"]
    blocks: tuple[Block, ...] = (findings(notes),) if notes else ()
    return Section(key="remarks", heading="Notes on the recording", blocks=blocks, page=2)
