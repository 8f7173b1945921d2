"""Section: how each number was made: formula, inputs, windows, corrections, other readings."""

from arteriole.indices.index import Index
from arteriole.report.tree import Section, Table
from arteriole.report.words import number, seconds
from arteriole.study.result import Result

WINDOWS_SHOWN = 3
HEAD = ("Index", "Formula and source", "From", "Where")
WIDTHS = (0.14, 0.32, 0.38, 0.16)


def section(result: Result) -> Section:
    """Return one row for each index that has a value."""
    rows = tuple(_row(i) for i in result.indices if i.value is not None)
    table = Table(caption="Workings", head=HEAD, rows=rows, widths=WIDTHS, dense=True)
    blocks = (table,) if rows else ()
    return Section(key="workings", heading="How the numbers were made", blocks=blocks, page=2)


def _row(one: Index) -> tuple[str, str, str, str]:
    formula = f"{one.formula} {one.source}".strip()
    if one.corrected_for:
        formula += f"; corrected for {', '.join(one.corrected_for)}"
    if one.note:
        formula += f"; {one.note}"
    inputs = "; ".join(f"{k} {v:.4g}" for k, v in one.inputs.items())
    if one.alternatives:
        others = ", ".join(f"{k} {number(v, one.decimals)}" for k, v in one.alternatives.items())
        inputs += f"; other readings: {others}"
    where = "; ".join(seconds(a, b) for a, b in one.windows_s[:WINDOWS_SHOWN])
    more = len(one.windows_s) - WINDOWS_SHOWN
    if more > 0:
        where += f" and {more} more"
    if one.beats:
        where += f" ({one.beats} beats)"
    return one.label, formula, inputs, where
