"""Section: the statement with its grounds, what was not assessed, and what would flip it."""

from arteriole.report.tree import Block, Bullets, Paragraph, Section
from arteriole.report.words import typeset
from arteriole.study.result import Result


def section(result: Result) -> Section:
    """Return the statement first; "not assessed" stands with the pattern."""
    said = result.statement
    missing = ", ".join(said.not_assessed)
    blocks: list[Block] = [Paragraph(words=typeset(said.sentence), weight="lead")]
    pattern = f"Pattern: {said.pattern}."
    if missing:
        pattern += f" Not assessed: {missing}."
    blocks.append(Paragraph(words=pattern))
    if said.because:
        blocks.append(Bullets(rows=tuple(typeset(b) for b in said.because)))
    return Section(key="conclusion", heading="Statement", blocks=tuple(blocks))
