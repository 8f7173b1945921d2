"""Section: the statement with its grounds, what was not assessed, and what would flip it."""

from arteriole.report.doubt import fewer
from arteriole.report.tree import Block, Bullets, Paragraph, Section
from arteriole.report.words import interval, typeset, value
from arteriole.study.result import Result

#: The numbers a statement rests on; all others stand in the table.
DECIDING = ("ffr", "cfr_bolus", "cfr_continuous", "imr", "mrr_continuous")
#: How many grounds a full sheet still shows; a stop stands among the findings as well.
FEWER = (8, 6, 5)
RESTING = ("resting_pd_pa", "full_cycle_ratio", "diastolic_ratio", "late_diastolic_ratio")
INTERVALS = "With 95 % intervals"


def section(result: Result) -> Section:
    """Return the statement first; "not assessed" stands with the pattern."""
    said = result.statement
    missing = ", ".join(said.not_assessed)
    blocks: list[Block] = [Paragraph(words=typeset(said.sentence), weight="lead")]
    pattern = f"Pattern: {said.pattern}."
    if missing:
        pattern += f" Not assessed: {missing}."
    blocks.append(Paragraph(words=pattern))
    deciding = [
        f"{i.label} {value(i)} ({interval(i)})"
        for i in result.indices
        if i.key in DECIDING and i.value is not None and i.interval95 is not None
    ]
    if deciding:
        blocks.append(Paragraph(words=f"{INTERVALS}: {'; '.join(deciding)}."))
    if said.because:
        grounds = [typeset(b) for b in said.because]
        resting = tuple(i.label for i in result.indices if i.key in RESTING)
        # Where not all hold, those of resting indices go first: FFR decides before them.
        ranked = sorted(grounds, key=lambda g: g.startswith(resting))
        short = fewer(ranked, FEWER, "grounds in the result document").shorter
        blocks.append(Bullets(rows=tuple(grounds), shorter=short))
    return Section(key="conclusion", heading="Statement", blocks=tuple(blocks))
