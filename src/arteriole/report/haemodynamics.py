"""Section: heart rate and pressures of every state; they stand beside CFR."""

from arteriole.report.tree import Block, Section, Table
from arteriole.report.words import number
from arteriole.study.result import Haemodynamics, Result

HEAD = ("State", "Heart rate", "Pa", "Pa systolic", "Pd", "Rate × systolic")
CAPTION = (
    "Means over the beats of each state (systolic —: too few of sound shape); pressures in mmHg, "
    "the product in mmHg/min"
)
WIDTHS = (0.18, 0.2, 0.09, 0.2, 0.09, 0.24)


def section(result: Result) -> Section:
    """Return one row for each state that was measured."""
    rows = tuple(_row(name, h) for name, h in result.haemodynamics.items())
    blocks: tuple[Block, ...] = ()
    if rows:
        blocks = (Table(caption=CAPTION, head=HEAD, rows=rows, widths=WIDTHS),)
    heading = "Heart rate and pressures"
    return Section(key="haemodynamics", heading=heading, blocks=blocks, half=True)


def _row(name: str, h: Haemodynamics) -> tuple[str, ...]:
    return (
        name, number(h.heart_rate_bpm, 0, "/min"), number(h.pa_mmhg, 0),
        number(h.pa_systolic_mmhg, 0), number(h.pd_mmhg, 0), number(h.rate_pressure_product, 0),
    )  # fmt: skip
