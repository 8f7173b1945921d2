"""Indices as dots with 95 % bars against their published lines, each on its own scale."""

from arteriole.figure.svg import Axis, drawing, segment, text
from arteriole.indices.about import printed
from arteriole.indices.index import Index
from arteriole.study.result import Result

WIDTH, ROW = 900.0, 20.0
NAME_W, BAR_W = 300.0, 380.0


def interval_bars(result: Result) -> str | None:
    """Return the bars of all indices with a value and a line, or None when there is none."""
    rows = [i for i in result.indices if i.value is not None and i.cutoffs]
    if not rows:
        return None
    parts = [part for k, one in enumerate(rows) for part in _row(one, 4 + k * ROW)]
    words = "; ".join(f"{i.label} {i.certainty}" for i in rows)
    return drawing(WIDTH, 8 + len(rows) * ROW, parts, f"Values with 95 % intervals: {words}")


def _row(one: Index, top: float) -> list[str]:
    assert one.value is not None
    low, high = one.interval95 or (one.value, one.value)
    marks = [c.value for c in one.cutoffs]
    a, b = min(low, *marks), max(high, *marks)
    room = 0.12 * (b - a) or 0.1
    x = Axis(a - room, b + room, NAME_W, NAME_W + BAR_W)
    y = top + ROW / 2
    at = x(one.value)
    shown = f"{printed(one.value, one.decimals):.{one.decimals}f}"
    name = one.label if one.method in one.label else f"{one.label} ({one.method})"
    parts = [
        text(NAME_W - 58, y + 4, _short(name), "end"),
        text(NAME_W - 10, y + 4, shown, "end"),
        segment(NAME_W, y, NAME_W + BAR_W, y, "grid"),
        segment(x(low), y, x(high), y, "ink thick"),
        f'<circle class="ink-fill" cx="{at:.1f}" cy="{y:.1f}" r="4"/>',
        text(NAME_W + BAR_W + 12, y + 4, one.certainty, "soft"),
    ]
    # Full line: the one that decides, the first with a side. Dashed: other published lines.
    decides = next((c for c in one.cutoffs if c.side), one.cutoffs[0])
    ordered = sorted({c.value: c for c in one.cutoffs}.values(), key=lambda c: c.value)
    for k, cutoff in enumerate(ordered):
        cx = x(cutoff.value)
        parts.append(segment(cx, y - 9, cx, y + 9, "axis" if cutoff is decides else "axis dash"))
        end = "end" if len(ordered) > 1 and k == 0 else ""
        parts.append(text(cx + (-3 if end else 3), y - 3, _limit(cutoff.value),
                          f"soft small {end}".strip()))  # fmt: skip
    return parts


def _limit(value: float) -> str:
    return f"{value:.{2 if value < 1 else 1 if value < 10 else 0}f}"


def _short(words: str) -> str:
    return words if len(words) <= 42 else words[:41] + "…"
