"""Section: every infusion: temperatures, where they were read, how steady they were, flow."""

from arteriole.report.tree import Block, Paragraph, Section, Table
from arteriole.report.words import number, seconds
from arteriole.study.result import Infusion, Result
from arteriole.thermo.continuous import FAULT_WORDS

HEAD = ("Infusion", "Pump", "Ti", "T", "Ti / T", "Q", "T read at", "T steady", "Remarks")
CAPTION = "Temperatures are differences from blood; T is its mean over the flow of the beat"
WIDTHS = (0.11, 0.1, 0.08, 0.08, 0.06, 0.11, 0.15, 0.12, 0.19)
APART = (
    "Flow and reserve by continuous infusion are not those by bolus, also in the same person: "
    "they share no line and are not to be compared with each other [BolusContinuous2023]."
)


def section(result: Result) -> Section:
    """Return one row for each infusion, in order of time; empty without one."""
    blocks: tuple[Block, ...] = ()
    if result.infusions:
        rows = tuple(_row(i) for i in result.infusions)
        table = Table(caption=CAPTION, head=HEAD, rows=rows, widths=WIDTHS, dense=True)
        blocks = (table, Paragraph(words=APART, weight="small"))
    return Section(key="infusions", heading="Infusions (continuous)", blocks=blocks)


def _row(one: Infusion) -> tuple[str, ...]:
    got = one.reading
    where, steady = "\u2014", "\u2014"
    if got.mixed is not None:
        where = seconds(got.mixed.start_s, got.mixed.end_s)
        word = "no" if "unsteady" in got.faults else "yes"
        steady = f"{word}, climb {number(got.mixed.climb_c, 2, '°C')}"
    ratio = None if not got.t_c or got.ti_c is None else got.ti_c / got.t_c
    return (
        one.phase + (" (marked)" if one.source == "marked" else ""),
        number(got.infusion_ml_min, 0, "mL/min"), number(got.ti_c, 2, "°C"),
        number(got.t_c, 2, "°C"), number(ratio, 1), number(got.q_ml_min, 0, "mL/min"),
        where, steady, "; ".join(FAULT_WORDS[f] for f in got.faults) or "\u2014",
    )  # fmt: skip
