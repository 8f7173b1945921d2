"""Section: every index with its interval, certainty, line and source."""

from arteriole.indices.index import Index
from arteriole.report.tree import Block, Section, Table
from arteriole.report.words import interval, label, lines, value
from arteriole.study.result import Result

HEAD = ("Index", "Method", "Value", "95 % interval", "Certainty", "Published line and source")
SIDES = "The value as printed decides on which side of a line it lies"
WIDTHS = (0.21, 0.075, 0.125, 0.105, 0.115, 0.37)


def section(result: Result) -> Section:
    """Return the table of indices with a value, then the withheld ones with reason and remedy."""
    shown = [i for i in result.indices if i.value is not None]
    withheld = [i for i in result.indices if i.value is None]
    blocks: list[Block] = []
    if shown:
        rows = tuple(
            (
                label(i), i.method, value(i), interval(i), i.certainty if i.cutoffs else "no line",
                lines(i.cutoffs) or i.source,
            )
            for i in shown
        )  # fmt: skip
        blocks.append(Table(caption=SIDES, head=HEAD, rows=rows, widths=WIDTHS))
    if withheld:
        why = tuple((", ".join(names), *key) for key, names in _alike(withheld).items())
        blocks.append(
            Table(
                caption="Withheld (withheld does not mean normal)",
                head=("Index", "Why", "What would give it"),
                rows=why,
                widths=(0.3, 0.32, 0.38),
                running=1,
            )
        )
    return Section(key="numbers", heading="Indices", blocks=tuple(blocks))


def _alike(withheld: list[Index]) -> dict[tuple[str, str], list[str]]:
    """Return the labels of indices withheld for one and the same reason, by reason and remedy."""
    rows: dict[tuple[str, str], list[Index]] = {}
    for one in withheld:
        why = one.withheld
        key = (why.reason, why.do) if why else ("no reason given", "—")
        rows.setdefault(key, []).append(one)
    return {key: _names(alike) for key, alike in rows.items()}


def _names(alike: list[Index]) -> list[str]:
    """Return labels with the method once, after the last of those that share it."""
    said = []
    for k, one in enumerate(alike):
        again = k + 1 < len(alike) and alike[k + 1].method == one.method
        short = label(one)
        said.append(short if again or short == one.label else one.label)
    return said
