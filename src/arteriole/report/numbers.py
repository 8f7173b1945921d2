"""Section: every index with its interval, certainty, line and source."""

from arteriole.report.tree import Block, Section, Table
from arteriole.report.words import interval, line, value
from arteriole.study.result import Result

HEAD = ("Index", "Method", "Value", "95 % interval", "Certainty", "Published line and source")
SIDES = "The value as printed decides on which side of a line it lies"
WIDTHS = (0.22, 0.1, 0.13, 0.15, 0.15, 0.25)


def section(result: Result) -> Section:
    """Return the table of indices with a value, then the withheld ones with reason and remedy."""
    shown = [i for i in result.indices if i.value is not None]
    withheld = [i for i in result.indices if i.value is None]
    blocks: list[Block] = []
    if shown:
        rows = tuple(
            (
                i.label, i.method, value(i), interval(i), i.certainty if i.cutoffs else "no line",
                "; ".join(line(c) for c in i.cutoffs) or i.source,
            )
            for i in shown
        )  # fmt: skip
        blocks.append(Table(caption=SIDES, head=HEAD, rows=rows, widths=WIDTHS))
    if withheld:
        why = tuple(
            (i.label, i.withheld.reason if i.withheld else "no reason given",
             i.withheld.do if i.withheld else "—")
            for i in withheld
        )  # fmt: skip
        blocks.append(
            Table(
                caption="Withheld (withheld does not mean normal)",
                head=("Index", "Why", "What would give it"), rows=why, widths=(0.22, 0.42, 0.36),
            )
        )
    return Section(key="numbers", heading="Indices", blocks=tuple(blocks))
