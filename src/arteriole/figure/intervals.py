"""Indices as dots with 95 % bars against their published lines, each on its own scale."""

from arteriole.figure.svg import Axis, drawing, segment, text
from arteriole.indices.about import line_as_printed, printed
from arteriole.indices.index import Index
from arteriole.study.result import Result

WIDTH, ROW, LOW_ROW = 900.0, 20.0, 14.0
#: Shares of the width that names with values, and bars take; the words of certainty get the rest.
NAME_SHARE, BAR_SHARE = 1 / 3, 0.42
LABEL = 20.0  # room of the number beside a line
NARROW = 500.0  # narrower than this, names are cut sooner and certainty is left to the table


def interval_bars(result: Result, width: float = WIDTH) -> str | None:
    """Return the bars of all indices with a value and a line, or None when there is none."""
    rows = [i for i in result.indices if i.value is not None and i.cutoffs]
    if not rows:
        return None
    tall = LOW_ROW if width < NARROW else ROW
    parts = [part for k, one in enumerate(rows) for part in _row(one, 4 + k * tall, width)]
    words = "; ".join(f"{i.label} {i.certainty}" for i in rows)
    return drawing(width, 8 + len(rows) * tall, parts, f"Values with 95 % intervals: {words}")


def _row(one: Index, top: float, width: float) -> list[str]:
    assert one.value is not None
    low, high = one.interval95 or (one.value, one.value)
    marks = [c.value for c in one.cutoffs]
    a, b = min(low, *marks), max(high, *marks)
    room = 0.12 * (b - a) or 0.1
    narrow = width < NARROW
    left = width * (0.56 if narrow else NAME_SHARE)
    right = width - 6 if narrow else left + width * BAR_SHARE
    x = Axis(a - room, b + room, left + (14 if narrow else 0), right)
    y = top + (LOW_ROW if narrow else ROW) / 2
    at = x(one.value)
    shown = f"{printed(one.value, one.decimals):.{one.decimals}f}"
    named = one.method in one.label or (narrow and one.method == "pressure")
    name = one.label if named else f"{one.label} ({one.method})"
    small = " small" if narrow else ""
    parts = [
        text(left - (34 if narrow else 58), y + 4, _short(name, 42), f"end{small}"),
        text(left - (6 if narrow else 10), y + 4, shown, f"end{small}"),
        segment(left, y, right, y, "grid"),
        segment(x(low), y, x(high), y, "ink thick"),
        f'<circle class="ink-fill" cx="{at:.1f}" cy="{y:.1f}" r="{3 if narrow else 4}"/>',
        "" if narrow else text(right + 12, y + 4, one.certainty, "soft"),
    ]
    # Full line: the one that decides, the first with a side. Dashed: other published lines.
    decides = next((c for c in one.cutoffs if c.side), one.cutoffs[0])
    ordered = sorted({c.value: c for c in one.cutoffs}.values(), key=lambda c: c.value)
    half = 6 if narrow else 9
    for cutoff in ordered:
        cx = x(cutoff.value)
        state = "axis" if cutoff is decides else "axis dash"
        parts.append(segment(cx, y - half, cx, y + half, state))
    taken: list[float] = []
    for cutoff in sorted(ordered, key=lambda c: c is not decides):
        first = cutoff is ordered[0] and len(ordered) > 1
        cx = x(cutoff.value)
        place = cx - LABEL if first else cx
        if all(abs(place - t) >= LABEL for t in taken):  # else the table has its value
            taken.append(place)
            shift, lift = (-3 if first else 3), (1 if narrow else 3)
            words = f"soft small{' end' if first else ''}"
            parts.append(text(cx + shift, y - lift, line_as_printed(cutoff.value), words))
    return parts


def _short(words: str, longest: int) -> str:
    return words if len(words) <= longest else words[: longest - 1] + "…"
