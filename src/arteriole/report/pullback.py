"""The pullback: its sentence, and every step with place, size and what would be left without it."""

from arteriole.report.tree import Block, Paragraph, Section, Table
from arteriole.report.words import number
from arteriole.study.result import Result

HEAD = ("Step", "Place", "Its middle, 95 %", "Size", "95 % interval", "Left without it")
WIDTHS = (0.06, 0.2, 0.2, 0.1, 0.2, 0.24)
CAPTION = "Steps of the pullback from the guide outwards"
MM = "place in mm from the guide"
SECONDS = "place in s of the recording, the length is not known"
LEFT = "left: Pd/Pa by simple addition, published limits ±0.10 [GradientOutcome2025]"
NOT_AT_REST = "what would be left is not published for rest"


def section(result: Result) -> Section:
    """Return the sentence and the steps, for a terminal; nothing where there was no pullback."""
    trace = result.pullback
    blocks: tuple[Block, ...] = ()
    if trace is not None:
        blocks = (Paragraph(words=in_words(result)), *steps(result))
    heading = f"Pullback, {trace.state}" if trace else "Pullback"
    return Section(key="pullback", heading=heading, blocks=blocks, page=2)


def in_words(result: Result) -> str:
    """Return the sentence up to what stands in the table of steps anyway."""
    sentence = result.pullback.sentence if result.pullback else ""
    return sentence.split(" Without the step ")[0].split(" Without step ")[0]


def steps(result: Result) -> tuple[Table, ...]:
    """Return the table of steps, none where there is no step."""
    trace = result.pullback
    if trace is None or not trace.steps:
        return ()
    rows = []
    unit = trace.place_unit
    for k, step in enumerate(trace.steps, 1):
        ends = (step.start_s, step.end_s)
        if step.start_mm is not None and step.end_mm is not None:
            ends = (step.start_mm, step.end_mm)
        left = "—"
        if step.would_leave is not None:
            left = number(step.would_leave) + _between(step.would_leave95, 2, ", ")
        rows.append((
            str(k), f"{_between(ends, 0)} {unit}",
            f"{_between(step.centre95_mm, 0)} mm" if step.centre95_mm else "—",
            number(step.drop), _between(step.interval95, 2), left,
        ))  # fmt: skip
    caption = "; ".join((
        CAPTION, MM if unit == "mm" else SECONDS, NOT_AT_REST if trace.state == "rest" else LEFT,
    ))  # fmt: skip
    return (Table(caption=caption, head=HEAD, rows=tuple(rows), widths=WIDTHS),)


def _between(ends: tuple[float, float] | None, decimals: int, before: str = "") -> str:
    if ends is None:
        return ""
    return f"{before}{number(ends[0], decimals)} to {number(ends[1], decimals)}"
