"""Section: the provocation test, dose by dose as recorded, or that there was none."""

from dataclasses import replace

from arteriole.recording.sheet import SpasmStep
from arteriole.report.tree import KEEP_TYPED, Block, Paragraph, Section, Table
from arteriole.report.words import measured, plain, short
from arteriole.study.result import Result

HEAD = ("Artery", "Agent, route", "Amount", "Symptoms", "ECG change", "Narrowing", "Reliever")
WIDTHS = (0.12, 0.22, 0.12, 0.14, 0.14, 0.12, 0.14)
LONGEST_ARTERIES = 160


def section(result: Result) -> Section:
    """Return the log; an absent test is said to be absent."""
    steps = result.sheet.spasm_test
    blocks: tuple[Block, ...]
    if steps:
        whole = Table(
            caption="In the order of the test, as recorded", head=HEAD, widths=WIDTHS,
            rows=tuple(_row(s) for s in steps), keep=KEEP_TYPED,
        )  # fmt: skip
        running = replace(whole, rows=tuple(_said(s) for s in steps), running=2)
        blocks = (replace(whole, shorter=(whole, running)),)
    else:
        blocks = (Paragraph(words="Spasm test: not recorded. Vasospasm was not assessed."),)
    arteries = result.sheet.arteries_spasm_tested
    if steps or arteries:
        blocks = (
            *blocks,
            Paragraph(words=f"Arteries tested: {short(plain(arteries), LONGEST_ARTERIES)}."),
        )
    return Section(key="spasm", heading="Spasm log", blocks=blocks)


def _row(s: SpasmStep) -> tuple[str, ...]:
    return (
        plain(s.artery), f"{plain(s.agent)}, {plain(s.route)}", measured(s.dose_ug, "µg"),
        plain(s.symptoms), plain(s.ecg_change), measured(s.narrowing_percent, "%"),
        plain(s.reliever),
    )  # fmt: skip


def _said(s: SpasmStep) -> tuple[str, ...]:
    """Return one step in words: without a head a cell must say what it holds."""
    row = _row(s)
    return (row[0], row[1], row[2], *(f"{h} {v}" for h, v in zip(HEAD[3:], row[3:], strict=True)))
