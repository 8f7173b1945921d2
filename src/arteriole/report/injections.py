"""Section: every injection in time order, with verdict and reason."""

from dataclasses import replace

from arteriole.report.tree import KEEP_TYPED, Block, Paragraph, Section, Table
from arteriole.report.words import number, short
from arteriole.study.result import Injection, Result

VERDICT_MARK = {"usable": "●", "look again": "◐", "repeat": "○", "left out": "×"}
HEAD = ("Injection", "At", "Tmn", "95 % interval", "Verdict, reason")
CAPTION = "In time order; an injection left out stays in the row; time zero: {}"
WIDTHS = (0.23, 0.13, 0.12, 0.2, 0.32)
LONGEST_LABEL, LONGEST_REASON = 24, 90
#: Characters of a row that holds every injection of a state; each one is short by itself.
KEEP_ROW = 6000
GATHERED = "In time order: verdict, Tmn, reason; times and intervals stand in the result document"


def section(result: Result) -> Section:
    """Return the injection row; left-out injections stay in it."""
    if not result.injections:
        blocks: tuple[Block, ...] = (Paragraph(words="No injection was found or marked."),)
    else:
        zeros = ", ".join(dict.fromkeys(i.time_zero for i in result.injections))
        rows = tuple(_row(i) for i in result.injections)
        whole = Table(
            caption=CAPTION.format(zeros), head=HEAD, rows=rows, widths=WIDTHS, keep=KEEP_TYPED
        )
        blocks = (replace(whole, shorter=(whole, _gathered(result))),)
    return Section(key="injections", heading="Injections (bolus)", blocks=blocks, half=True)


def _gathered(result: Result) -> Table:
    phases = dict.fromkeys(i.phase for i in result.injections)
    rows = tuple(
        (phase, "; ".join(_short(i) for i in result.injections if i.phase == phase))
        for phase in phases
    )
    return Table(caption=GATHERED, head=("State", "Injections"), rows=rows, widths=(0.2, 0.8),
                 keep=KEEP_ROW)  # fmt: skip


def _short(one: Injection) -> str:
    why = f" ({short('; '.join(one.reasons), LONGEST_REASON)})" if one.reasons else ""
    label = short(one.label, LONGEST_LABEL)
    return f"{VERDICT_MARK[one.verdict]} {label} {number(one.tmn_s, 2, 's')}{why}"


def _row(one: Injection) -> tuple[str, ...]:
    low_high = "—"
    if one.interval95_s is not None:
        low_high = f"{number(one.interval95_s[0])} to {number(one.interval95_s[1])}"
    said = f"{VERDICT_MARK[one.verdict]} {one.verdict}"
    why = "; ".join((*one.reasons, *(("marked by a person",) if one.source == "marked" else ())))
    return (
        f"{one.label}, {one.phase}" if one.phase not in one.label else one.label,
        f"{one.time_s:.1f} s", number(one.tmn_s, 2, "s"), low_high,
        f"{said}: {why}" if why else said,
    )  # fmt: skip
