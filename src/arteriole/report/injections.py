"""Section: every injection in time order, with verdict and reason."""

from arteriole.report.tree import Block, Paragraph, Section, Table
from arteriole.report.words import number
from arteriole.study.result import Injection, Result

VERDICT_MARK = {"usable": "●", "look again": "◐", "repeat": "○", "left out": "×"}
HEAD = ("Injection", "At", "Tmn", "95 % interval", "Time zero", "Verdict", "Reason")
CAPTION = "In time order; an injection left out stays in the row"
WIDTHS = (0.1, 0.1, 0.1, 0.15, 0.1, 0.14, 0.31)


def section(result: Result) -> Section:
    """Return the injection row; left-out injections stay in it."""
    if not result.injections:
        blocks: tuple[Block, ...] = (Paragraph(words="No injection was found or marked."),)
    else:
        rows = tuple(_row(i) for i in result.injections)
        blocks = (Table(caption=CAPTION, head=HEAD, rows=rows, widths=WIDTHS),)
    return Section(key="injections", heading="Injections (bolus)", blocks=blocks)


def _row(one: Injection) -> tuple[str, ...]:
    low_high = "—"
    if one.interval95_s is not None:
        low_high = f"{number(one.interval95_s[0])} to {number(one.interval95_s[1])} s"
    return (
        f"{one.label} {one.phase}" if one.phase not in one.label else one.label,
        f"{one.time_s:.1f} s", number(one.tmn_s, 2, "s"), low_high,
        one.time_zero + (" (marked)" if one.source == "marked" else ""),
        f"{VERDICT_MARK[one.verdict]} {one.verdict}", "; ".join(one.reasons) or "—",
    )  # fmt: skip
