"""The study in a terminal: the statement first, then what it rests on."""

from collections.abc import Iterator

from rich.console import Console, Group, RenderableType
from rich.table import Table as Grid
from rich.text import Text

from arteriole import CAUTION
from arteriole.report import (
    behind,
    checks,
    conclusion,
    doubt,
    haemodynamics,
    infusions,
    injections,
    numbers,
    pullback,
    remarks,
)
from arteriole.report.build import SIMULATED
from arteriole.report.tree import Block, Bullets, Facts, Paragraph, Section, Table
from arteriole.report.words import clean
from arteriole.study.result import Result

NARROWEST = 100  # columns; pipes have none and get this, our choice, decision 0080
_NO_BREAK = {"Value", "Tmn", "At", "Method", "Weight", "State", "Step", "Size"}


def summary(result: Result) -> RenderableType:
    """Return the readable summary: no colour carries meaning, no number is made here."""
    where = " ".join(filter(None, (result.sheet.vessel, result.sheet.segment)))
    title = " · ".join(filter(None, (result.sheet.case_id or result.recording.name, where)))
    parts: list[RenderableType] = [_words(title, "bold")]
    if result.simulated:
        parts.append(_words(SIMULATED, "bold reverse"))
    for module in (
        conclusion,
        numbers,
        haemodynamics,
        injections,
        infusions,
        pullback,
        checks,
        remarks,
        doubt,
    ):
        section = module.section(result)
        if section.blocks:
            parts += _section(section)
    section = behind.short(result)
    if section.blocks:
        parts += _section(section)
    parts += [
        Text(""),
        _words(f"Rules {result.statement.rules} · settings {result.settings.version} · "
               f"arteriole {result.version} · SHA-256 {result.recording.sha256[:16]}…", "dim"),
        _words(CAUTION, "italic"),
    ]  # fmt: skip
    return Group(*parts)


def print_summary(result: Result, console: Console | None = None) -> None:
    """Print the summary; without a terminal it is plain text of a fixed width."""
    out = console or Console(highlight=False)
    if console is None and not out.is_terminal:
        out = Console(highlight=False, width=NARROWEST + 20, no_color=True)
    out.print(summary(result), markup=False, highlight=False)


def _words(words: str, look: str = "") -> Text:
    return Text(clean(words), style=look)


def _section(section: Section) -> Iterator[RenderableType]:
    yield Text("")
    yield _words(section.heading, "bold underline")
    for block in section.blocks:
        yield from _block(block)


def _block(block: Block) -> Iterator[RenderableType]:
    match block:
        case Paragraph(words=words, weight=weight):
            yield _words(words, "bold" if weight == "lead" else "")
        case Bullets(rows=rows):
            yield from (_words(f"– {r}") for r in rows)
        case Facts(rows=rows):
            grid = Grid.grid(padding=(0, 2))
            grid.add_column(no_wrap=True)
            grid.add_column()
            for label, said in rows:
                grid.add_row(_words(label, "dim"), _words(said))
            yield grid
        case Table(caption=caption, head=head, rows=cells):
            table = Grid(box=None, pad_edge=False, padding=(0, 2, 0, 0), title=caption,
                         title_justify="left", title_style="dim")  # fmt: skip
            for name in head:
                table.add_column(name, no_wrap=name in _NO_BREAK, header_style="dim")
            for row in cells:
                table.add_row(*(_words(c) for c in row))
            yield table
