"""Section: how each number was made: formula, inputs, windows, corrections, other readings."""

from dataclasses import replace

from arteriole.indices.index import Index
from arteriole.report.tree import Section, Table
from arteriole.report.words import number, seconds
from arteriole.study.result import Result

WINDOWS_SHOWN = 3
MOST_ROWS = (18, 12)  # on a sheet that holds no more
HEAD = ("Index", "Formula and source", "From", "Where")
WIDTHS = (0.14, 0.32, 0.38, 0.16)
#: What a full sheet leaves out, one after the other; the study page and the document keep all.
WITHOUT_READINGS = "Workings; other readings stand in the result document"
WITHOUT_NOTES = "Workings; notes and other readings stand in the result document"
WITHOUT_INPUTS = (
    "Workings; inputs, notes and other readings stand in the result document, times of a bolus "
    "with the injections"
)


def section(result: Result) -> Section:
    """Return one row for each index that has a value."""
    shown = [i for i in result.indices if i.value is not None]
    fewer = _table(shown, WITHOUT_INPUTS, readings=False, notes=False, inputs=False)
    shorter = (
        _table(shown, WITHOUT_READINGS, readings=False),
        _table(shown, WITHOUT_NOTES, readings=False, notes=False),
        *(_first(fewer, n) for n in (len(fewer.rows), *MOST_ROWS)),
    )
    whole = _table(shown, "Workings", shorter=shorter)
    blocks = (whole,) if shown else ()
    return Section(key="workings", heading="How the numbers were made", blocks=blocks, page=2)


def _first(table: Table, most: int) -> Table:
    more = len(table.rows) - most
    caption = f"{table.caption}; {more} more there" if more > 0 else table.caption
    return replace(table, rows=table.rows[:most], caption=caption)


def _table(
    rows: list[Index],
    caption: str,
    *,
    readings: bool = True,
    notes: bool = True,
    inputs: bool = True,
    shorter: tuple[Table, ...] = (),
) -> Table:
    said: dict[tuple[str, str, str], list[str]] = {}
    for i in rows:
        where = _where(i, WINDOWS_SHOWN if inputs else 1)
        key = (
            _formula(i, notes=notes),
            _inputs(i, readings=readings) if inputs else "",
            where if inputs or i.method != "bolus" else "",
        )
        said.setdefault(key, []).append(i.label)
    return Table(
        caption=caption, head=HEAD, widths=WIDTHS, dense=True, running=2, shorter=shorter,
        rows=tuple((", ".join(names), *key) for key, names in said.items()),
    )  # fmt: skip


def _formula(one: Index, *, notes: bool) -> str:
    formula = f"{one.formula} {one.source}".strip()
    if one.corrected_for:
        formula += f"; corrected for {', '.join(one.corrected_for)}"
    if one.note and notes:
        formula += f"; {one.note}"
    return formula


def _inputs(one: Index, *, readings: bool) -> str:
    inputs = "; ".join(f"{k} {v:.4g}" for k, v in one.inputs.items())
    if one.alternatives and readings:
        others = ", ".join(f"{k} {number(v, one.decimals)}" for k, v in one.alternatives.items())
        inputs += f"; other readings: {others}"
    return inputs


def _where(one: Index, most: int) -> str:
    where = "; ".join(seconds(a, b) for a, b in one.windows_s[:most])
    more = len(one.windows_s) - most
    if more > 0:
        where += f" and {more} more"
    if one.beats:
        where += f" ({one.beats} beats)"
    return where
