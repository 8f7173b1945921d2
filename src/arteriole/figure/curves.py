"""Dilution curves, one small picture per injection: drop, fit, tail, time zero, verdict."""

import numpy as np

from arteriole.figure.decimate import extremes
from arteriole.figure.svg import Axis, drawing, line, segment, text
from arteriole.study.result import Injection, Result

COLUMNS, WIDTH = 6, 900.0
CELL_H, FLAT_H = 104.0, 86.0
MOST_CURVES = 12  # on paper; the page and the Bench show all
PAD_L, PAD_R, PAD_T, PAD_B = 20.0, 4.0, 30.0, 16.0
BEFORE_S, AFTER_S = 1.0, 8.0  # shown around time zero; our choice, decision 0080
POINTS = 400  # per curve in a small picture
VERDICT_MARK = {"usable": "●", "look again": "◐", "repeat": "○", "left out": "×"}


def dilution_curves(result: Result) -> str | None:
    """Return all injections with a curve as one SVG element, or None when there is none."""
    return _drawn([i for i in result.injections if i.reading.curve is not None], COLUMNS)


def few_curves(result: Result, width: float) -> str | None:
    """Return the first ``MOST_CURVES`` of them, drawn for a narrow sheet."""
    rows = [i for i in result.injections if i.reading.curve is not None][:MOST_CURVES]
    return _drawn(rows, 3 if len(rows) <= 6 else 4, width, FLAT_H)


def _drawn(
    rows: list[Injection], columns: int, width: float = WIDTH, tall: float = CELL_H
) -> str | None:
    if not rows:
        return None
    high = max(_peak(i) for i in rows) * 1.08 or 1.0
    low = -0.12 * high
    cell = width / columns
    parts: list[str] = []
    for k, one in enumerate(rows):
        left, top = (k % columns) * cell, (k // columns) * tall
        parts.append(_cell(one, (left, top, cell, tall), low, high))
    height = -(-len(rows) // columns) * tall
    words = "; ".join(f"{i.label} {i.verdict}" for i in rows)
    return drawing(width, height + 4, parts, f"Temperature drop after each injection: {words}")


def _origin(one: Injection) -> float:
    return one.reading.zero_s if one.reading.zero_s is not None else one.time_s


def _peak(one: Injection) -> float:
    curve = one.reading.curve
    assert curve is not None
    seen = (curve.t_s >= _origin(one) - BEFORE_S) & (curve.t_s <= _origin(one) + AFTER_S)
    drop = curve.drop_c[seen & np.isfinite(curve.drop_c)]
    return float(drop.max()) if drop.size else 0.0


def _cell(one: Injection, place: tuple[float, float, float, float], low: float, high: float) -> str:
    curve = one.reading.curve
    assert curve is not None
    zero = _origin(one)
    left, top, width, tall = place
    x = Axis(-BEFORE_S, AFTER_S, left + PAD_L, left + width - PAD_R)
    y = Axis(low, high, top + tall - PAD_B, top + PAD_T)
    seen = (curve.t_s >= zero - BEFORE_S) & (curve.t_s <= zero + AFTER_S)
    state = "dash" if one.phase == "rest" else ""

    def drawn(values: np.ndarray, classes: str, after_s: float | None = None) -> str:
        keep = seen if after_s is None else seen & (curve.t_s >= after_s)
        t, v = extremes(curve.t_s[keep] - zero, values[keep], POINTS)
        v = np.clip(v, low, high)
        return line([(x(a), y(b)) for a, b in zip(t.tolist(), v.tolist(), strict=True)], classes)

    number = "no Tmn" if one.tmn_s is None else f"Tmn {one.tmn_s:.2f} s"
    parts = [
        *(segment(x.p, y(v), x.q, y(v), "grid") + text(x.p - 3, y(v) + 3, f"{v:g}",
          "soft end small") for v in y.ticks(3)),
        *(text(x(v), y.p + 11, f"{v:g}", "soft mid small") for v in x.ticks(4)),
        drawn(curve.drop_c, "temp pale"),
        drawn(curve.slow_c, "axis dot"),
        drawn(curve.fit_c, f"temp {state}".strip()),
        drawn(curve.fit_c, "temp thick", curve.tail_from_s),
        segment(x(0), y.p, x(0), y.q, "axis dash"),
        text(left + PAD_L, top + 12, f"{VERDICT_MARK[one.verdict]} {one.label}  {number}"),
        text(left + PAD_L, top + 23, one.verdict, "soft small"),
    ]  # fmt: skip
    if one.tmn_s is not None:
        parts.append(segment(x(one.tmn_s), y.p, x(one.tmn_s), y.p - 9, "ink"))
    return "".join(parts)
