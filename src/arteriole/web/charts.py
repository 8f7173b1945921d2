"""Small pictures of a result as SVG elements; colours come from the style sheet's classes."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import htpy as h

from arteriole.indices.about import line_as_printed
from arteriole.indices.index import Index
from arteriole.report.words import typeset
from arteriole.study.result import Injection, Result
from arteriole.web.texts import Texts

CURVE_POINTS = 170  # per curve; more than pixels of the panel would show nothing further
LABEL_ROOM = 24.0  # pixels that one label needs
WIDE, TALL = 720.0, 270.0
LEFT, RIGHT, TOP, FOOT = 44.0, 10.0, 14.0, 34.0


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight axis: values ``a`` to ``b`` lie at pixels ``left`` to ``right``."""

    a: float
    b: float
    left: float
    right: float

    def __call__(self, value: float) -> float:
        """Return the pixel of a value."""
        return self.left + (value - self.a) / ((self.b - self.a) or 1.0) * (self.right - self.left)


def curves(result: Result, t: Texts) -> h.Element | None:
    """Return every injection's curve on one axis: drop, fit, tail, time zero, mean passage."""
    drawn = [i for i in result.injections if i.reading.curve is not None]
    if not drawn:
        return None
    spans = [_relative(i) for i in drawn]
    longest = max((i.tmn_s for i in drawn if i.tmn_s is not None), default=1.0)
    x0 = max(-1.0, min(s[0] for s in spans))
    x1 = min(max(2.0, 6 * longest), max(s[1] for s in spans))
    depths = [float(d) for i in drawn if i.reading.curve for d in i.reading.curve.drop_c]
    deepest = max((d for d in depths if math.isfinite(d)), default=1.0)
    y1 = max(0.5, deepest * 1.08)

    X = Axis(x0, x1, LEFT, WIDE - RIGHT)
    Y = Axis(-0.12 * y1, y1, TOP, TALL - FOOT)

    label = t("curves.label", n=len(drawn))
    return h.svg(".curves", viewBox=f"0 0 {WIDE:.0f} {TALL:.0f}", role="img", aria_label=label)[
        _grid(x0, x1, y1, X, Y),
        h.line(".zero", x1=f"{X(0):.1f}", x2=f"{X(0):.1f}", y1=f"{TOP}", y2=f"{TALL - FOOT}"),
        (_curve(i, x0, x1, X, Y) for i in drawn),
        _passage_labels(drawn, x1, X, Y(0.0) - 8),
        h.text(x=f"{X(0) + 4:.1f}", y=f"{TALL - FOOT - 5:.1f}")[t("curves.zero")],
        h.text(".soft", x=f"{WIDE - RIGHT}", y=f"{TALL - 4}", text_anchor="end")[t("curves.x")],
        h.text(".soft", x="4", y=f"{TOP + 2}")["−°C"],
    ]  # fmt: skip


def interval_bar(index: Index, t: Texts) -> h.Element | None:
    """Return the index's interval as a bar against its published lines."""
    if index.value is None:
        return None
    low, high = index.interval95 or (index.value, index.value)
    lines = list(index.cutoffs)
    marks = [low, high, index.value, *(c.value for c in lines)]
    room = (max(marks) - min(marks)) * 0.12 or abs(index.value) * 0.1 or 1.0
    x0, x1 = min(marks) - room, max(marks) + room

    X = Axis(x0, x1, 4, 126)

    named = _apart([(X(c.value), line_as_printed(c.value)) for c in lines])
    told = ", ".join(f"{typeset(c.relation)} {line_as_printed(c.value)}" for c in lines)
    said = t("bar.label", low=_short(low), high=_short(high), lines=told or "–")
    return h.svg(viewBox="0 0 130 30", role="img", aria_label=said)[
        h.line(".axis", x1="2", x2="128", y1="17", y2="17"),
        (
            [
                h.line(".line", x1=f"{X(c.value):.1f}", x2=f"{X(c.value):.1f}", y1="8", y2="27"),
            ]
            for c in lines
        ),
        (h.text(".soft", x=f"{x:.1f}", y="8", text_anchor="middle")[text] for x, text in named),
        h.line(".interval", x1=f"{X(low):.1f}", x2=f"{X(high):.1f}", y1="17", y2="17"),
        h.circle(".dot", cx=f"{X(index.value):.1f}", cy="17", r="4"),
    ]  # fmt: skip


def steadiness(result: Result, t: Texts) -> h.Element | None:
    """Return the hyperaemia as one line: its states by stroke and word, injections as ticks."""
    states = result.hyperaemia.states
    if not states:
        return None
    a, b = states[0].start_s - 5, states[-1].end_s + 5

    X = Axis(a, b, 6, WIDE - 6)

    label = "; ".join(f"{t('state.' + s.state)} {s.start_s:.0f}–{s.end_s:.0f} s" for s in states)
    return h.svg(".strip", viewBox=f"0 0 {WIDE:.0f} 74", role="img", aria_label=label)[
        (
            [
                h.line(f".state.{s.state.replace(' ', '-')}", x1=f"{X(s.start_s):.1f}",
                       x2=f"{X(s.end_s):.1f}", y1="34", y2="34"),
                (s.end_s - s.start_s) / (b - a) > 0.05
                and h.text(x=f"{X((s.start_s + s.end_s) / 2):.1f}", y="22",
                           text_anchor="middle")[t("state." + s.state)],
            ]
            for s in states
        ),
        (
            [
                h.line(".zero", x1=f"{X(i.time_s):.1f}", x2=f"{X(i.time_s):.1f}", y1="40", y2="50"),
                h.text(x=f"{X(i.time_s):.1f}", y="63", text_anchor="middle")[i.label],
            ]
            for i in result.injections
            if a <= i.time_s <= b
        ),
        h.text(".soft", x="6", y="73", font_size="10")[f"{a + 5:.0f} s"],
        h.text(".soft", x=f"{WIDE - 6}", y="73", font_size="10", text_anchor="end")[
            f"{b - 5:.0f} s"
        ],
    ]  # fmt: skip


def pullback(result: Result, t: Texts) -> h.Element | None:
    """Return the ratio along the pullback, steps shaded."""
    trace = result.pullback
    if trace is None or len(trace.place) < 2:
        return None
    a, b = min(trace.place), max(trace.place)
    low = min(0.5, *trace.ratio)

    X = Axis(a, b, LEFT, WIDE - RIGHT)
    Y = Axis(1.05, low, 10, 140)

    step = max(1, len(trace.place) // 300)
    points = list(zip(trace.place, trace.ratio, strict=True))[::step]
    path = "M" + "L".join(f"{X(p):.1f} {Y(r):.1f}" for p, r in points)
    ticks = [r / 10 for r in range(int(low * 10) + 1, 11)]
    in_mm = trace.place_unit == "mm"
    return h.svg(".strip", viewBox=f"0 0 {WIDE:.0f} 170", role="img", aria_label=trace.sentence)[
        (
            [
                h.line(".grid", x1=f"{LEFT}", x2=f"{WIDE - RIGHT}", y1=f"{Y(r):.1f}",
                       y2=f"{Y(r):.1f}"),
                h.text(".soft", x=f"{LEFT - 6}", y=f"{Y(r) + 4:.1f}", text_anchor="end")[
                    f"{r:.1f}"],
            ]
            for r in ticks
        ),
        h.path(".steps", d=path),
        (_step(s.start_mm if in_mm else trace.end_s - s.end_s,
               s.end_mm if in_mm else trace.end_s - s.start_s, s.drop, X)
         for s in trace.steps),
        h.text(".soft", x=f"{LEFT}", y="166")[f"{a:.0f} {trace.place_unit}"],
        h.text(".soft", x=f"{WIDE - RIGHT}", y="166", text_anchor="end")[
            f"{b:.0f} {trace.place_unit}"
        ],
        h.text(".soft", x=f"{WIDE / 2}", y="166", text_anchor="middle")[t("pullback.axis")],
    ]  # fmt: skip


def change(pairs: Sequence[tuple[str, Index]], t: Texts) -> h.Element:
    """Return two or more readings of one index on one axis, intervals as bars, lines dashed."""
    found = [(n, i) for n, i in pairs if i.value is not None]
    lines = sorted({c.value for _, i in found for c in i.cutoffs})
    marks = [*lines]
    for _, one in found:
        low, high = one.interval95 or (one.value, one.value)
        marks += [v for v in (low, high, one.value) if v is not None]
    room = (max(marks) - min(marks)) * 0.1 or abs(marks[0]) * 0.1 or 1.0
    x0, x1 = min(marks) - room, max(marks) + room

    X = Axis(x0, x1, 22, 292)

    rows: list[h.Node] = [
        [
            h.line(".line", x1=f"{X(v):.1f}", x2=f"{X(v):.1f}", y1="10", y2="44"),
            h.text(".soft", x=f"{X(v):.1f}", y="8", text_anchor="middle", font_size="9")[f"{v:g}"],
        ]
        for v in lines
    ]
    for k, (name, one) in enumerate(found):
        assert one.value is not None
        y = 20 + 17 * k
        low, high = one.interval95 or (one.value, one.value)
        rows.append([
            h.text(".soft", x="2", y=f"{y + 4}")[name],
            h.line(".axis", x1="18", x2="298", y1=f"{y}", y2=f"{y}"),
            h.line(".interval", x1=f"{X(low):.1f}", x2=f"{X(high):.1f}", y1=f"{y}", y2=f"{y}"),
            h.circle(".dot" if k else ".dot-open", cx=f"{X(one.value):.1f}", cy=f"{y}", r="4"),
        ])  # fmt: skip
    said = "; ".join(f"{n}: {i.value:.{i.decimals}f}" for n, i in found if i.value is not None)
    return h.svg(viewBox="0 0 300 46", role="img", aria_label=t("compare.axis", said=said))[rows]


def _curve(i: Injection, x0: float, x1: float, X: Axis, Y: Axis) -> h.Element:
    curve = i.reading.curve
    assert curve is not None
    zero = i.reading.zero_s if i.reading.zero_s is not None else i.time_s
    rows = [(float(a) - zero, float(d), float(f) + float(s)) for a, d, f, s in
            zip(curve.t_s, curve.drop_c, curve.fit_c, curve.slow_c, strict=True)]  # fmt: skip
    rows = [r for r in rows if x0 <= r[0] <= x1 and all(map(math.isfinite, r))]
    rows = rows[:: max(1, len(rows) // CURVE_POINTS)]
    tail = [r for r in rows if r[0] >= curve.tail_from_s - zero]
    classes = " ".join(["curve", i.phase, i.verdict.replace(" ", "-")])
    parts: list[h.Node] = [
        len(tail) > 1 and h.path(".tail", d=_path(((X(a), Y(f)) for a, _, f in tail))),
        h.path(".drop", d=_path((X(a), Y(d)) for a, d, _ in rows)),
        h.path(".fit", d=_path((X(a), Y(f)) for a, _, f in rows)),
    ]
    if i.tmn_s is not None and i.tmn_s < x1:
        x, y = X(i.tmn_s), Y(0.0)
        parts.append(
            h.circle(".passage", cx=f"{x:.1f}", cy=f"{y:.1f}", r="4") if i.phase == "rest"
            else h.path(".passage", d=f"M{x - 5:.1f} {y:.1f}l5 -5l5 5l-5 5z")
        )  # fmt: skip
    return h.g(class_=classes, data_id=i.id)[h.title[f"{i.label} · {i.verdict}"], parts]


def _passage_labels(drawn: Sequence[Injection], x1: float, X: Axis, y: float) -> list[h.Node]:
    """Return the labels over the mean passages; those that would overlap stand as one."""
    found = sorted((X(i.tmn_s), i.label) for i in drawn if i.tmn_s is not None and i.tmn_s < x1)
    groups: list[list[tuple[float, str]]] = []
    for x, label in found:
        if groups and x - groups[-1][-1][0] < LABEL_ROOM:
            groups[-1].append((x, label))
        else:
            groups.append([(x, label)])
    return [
        h.text(x=f"{sum(x for x, _ in g) / len(g):.1f}", y=f"{y:.1f}", text_anchor="middle")[
            _together([label for _, label in g])
        ]
        for g in groups
    ]


def _apart(texts: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """Return those texts that have room beside the one before."""
    kept: list[tuple[float, str]] = []
    for x, text in sorted(texts):
        if not kept or x - kept[-1][0] >= LABEL_ROOM:
            kept.append((x, text))
    return kept


def _together(labels: list[str]) -> str:
    """Return labels that stand at one place: H1 H2, or R1–R4 where none is missing."""
    labels = sorted(labels)
    numbers = [label[1:] for label in labels]
    if len(labels) > 2 and len({label[:1] for label in labels}) == 1 and all(
        n.isdigit() for n in numbers
    ):  # fmt: skip
        values = sorted(int(n) for n in numbers)
        if values == list(range(values[0], values[0] + len(values))):
            return f"{labels[0][:1]}{values[0]}–{labels[0][:1]}{values[-1]}"
    return " ".join(labels)


def _relative(i: Injection) -> tuple[float, float]:
    curve = i.reading.curve
    assert curve is not None
    zero = i.reading.zero_s if i.reading.zero_s is not None else i.time_s
    return float(curve.t_s[0]) - zero, float(curve.t_s[-1]) - zero


def _grid(x0: float, x1: float, y1: float, X: Axis, Y: Axis) -> list[h.Node]:
    by = 1 if x1 - x0 < 9 else 2
    rows: list[h.Node] = [
        [
            h.line(".grid", x1=f"{X(s):.1f}", x2=f"{X(s):.1f}", y1=f"{TOP}", y2=f"{TALL - FOOT}"),
            h.text(".soft", x=f"{X(s):.1f}", y=f"{TALL - FOOT + 13}", text_anchor="middle")[f"{s}"],
        ]
        for s in range(int(x0), int(x1) + 1, by)
    ]
    step = 0.5 if y1 < 2.5 else 1 if y1 < 5 else 2
    level = 0.0
    while level < y1:
        rows.append([
            h.line(".grid", x1=f"{LEFT}", x2=f"{WIDE - RIGHT}", y1=f"{Y(level):.1f}",
                   y2=f"{Y(level):.1f}"),
            h.text(".soft", x=f"{LEFT - 6}", y=f"{Y(level) + 4:.1f}", text_anchor="end")[
                f"{level:g}"
            ],
        ])  # fmt: skip
        level += step
    return rows


def _step(start: float | None, end: float | None, drop: float, X: Axis) -> h.Node:
    if start is None or end is None:
        return None
    left, right = sorted((X(start), X(end)))
    return [
        h.line(".interval", x1=f"{left:.1f}", x2=f"{right:.1f}", y1="146", y2="146"),
        h.text(x=f"{(left + right) / 2:.1f}", y="142", text_anchor="middle")[f"{drop:.2f}"],
    ]


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _short(value: float) -> str:
    return f"{value:.3g}"
