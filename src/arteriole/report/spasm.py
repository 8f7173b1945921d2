"""Section: the provocation test, dose by dose as recorded, or that there was none."""

from arteriole.recording.sheet import SpasmStep
from arteriole.report.tree import Block, Paragraph, Section, Table
from arteriole.report.words import measured, plain
from arteriole.study.result import Result

HEAD = ("Artery", "Agent, route", "Amount", "Symptoms", "ECG change", "Narrowing", "Reliever")
WIDTHS = (0.12, 0.22, 0.12, 0.14, 0.14, 0.12, 0.14)


def section(result: Result) -> Section:
    """Return the log; an absent test is said to be absent."""
    steps = result.sheet.spasm_test
    blocks: tuple[Block, ...]
    if steps:
        rows = tuple(_row(s) for s in steps)
        blocks = (Table(caption="Spasm log", head=HEAD, rows=rows, widths=WIDTHS),)
    else:
        blocks = (Paragraph(words="Spasm test: not recorded. Vasospasm was not assessed."),)
    arteries = result.sheet.arteries_spasm_tested
    if steps or arteries:
        blocks = (*blocks, Paragraph(words=f"Arteries tested: {plain(arteries)}."))
    return Section(key="spasm", heading="Spasm log", blocks=blocks)


def _row(s: SpasmStep) -> tuple[str, ...]:
    return (
        plain(s.artery), f"{plain(s.agent)}, {plain(s.route)}", measured(s.dose_ug, "µg"),
        plain(s.symptoms), plain(s.ecg_change), measured(s.narrowing_percent, "%"),
        plain(s.reliever),
    )  # fmt: skip
