"""The whole session: pressure strip, Pd/Pa step line and temperature strip on one time axis."""

from typing import Any, Protocol

import numpy as np

from arteriole.figure.decimate import extremes
from arteriole.figure.svg import Axis, drawing, line, segment, text
from arteriole.recording.channel import Channel
from arteriole.recording.recording import Recording
from arteriole.study.result import Result

WIDTH = 900.0
LEFT, RIGHT = 44.0, 18.0
RAILS, PRESSURE, RATIO, TEMPERATURE = 40.0, 125.0, 70.0, 62.0
GAP = 12.0
STEADY_BEATS = 15  # over which the pressures lie apart where their letters stand
PAUSE_S = 3.0  # without a beat for longer, the line of the means is broken
SHOWN_SHARE = (0.7, 99.3)  # percentiles that set a scale, so one wild sample does not
SET_UP = frozenset({"zeroing", "equalisation"})
SIGNS = {"rest": "rest", "hyperaemia": "hyperaemia", "pullback": "pullback",
         "equalisation": "equalised", "drift_check": "drift check", "infusion": "infusion",
         "zeroing": "zero", "flush": "flush", "unusable": "unusable"}  # fmt: skip


class Measured(Protocol):
    """What a measurement shows to a figure: its recording and its beats."""

    @property
    def recording(self) -> Recording:
        """The recording as read."""

    @property
    def beats(self) -> Any:
        """``end_s``, ``pa_mean_mmhg``, ``pd_mean_mmhg``, shape (n,)."""


def session_strips(
    result: Result, signals: Measured, width: float = WIDTH, flat: float = 1.0
) -> str:
    """Return the strips of the whole recording as one SVG element, ``width`` units wide.

    ``flat`` is the height of each strip against its usual one.
    """
    recording = signals.recording
    x = Axis(0.0, max(recording.duration_s, 1e-3), LEFT, width - RIGHT)
    parts = [_rails(result, x)]
    y = RAILS
    if "pa" in recording or "pd" in recording:
        parts.append(_pressure(signals, x, (y, PRESSURE * flat), _settled_s(result)))
        y += PRESSURE * flat + GAP
        ratio = _ratio(signals, x, (y, RATIO * flat), _settled_s(result))
        if ratio:
            parts.append(ratio)
            y += RATIO * flat + GAP
    if "temp" in recording:
        parts.append(_temperature(recording.channel("temp"), x, (y, TEMPERATURE * flat), result))
        y += TEMPERATURE * flat + GAP
    parts += [text(x(t), y + 4, f"{t:g}", "soft mid small") for t in x.ticks(10)]
    if flat < 1.0:
        parts.append(text(LEFT - 10, y + 4, "s", "soft end small"))
        return drawing(width, y + 8, parts, _title(result))
    parts.append(text(width - RIGHT, y + 15, "seconds from the start", "soft end small"))
    return drawing(width, y + 20, parts, _title(result))


def _title(result: Result) -> str:
    names = ", ".join(c.name for c in result.recording.channels)
    return f"Traces of {names} over {result.recording.duration_s:.0f} s with the stretches found"


def _rails(result: Result, x: Axis) -> str:
    parts: list[str] = []
    free = [-1.0, -1.0]  # where the words of either line end
    for one in result.episodes:
        if one.kind not in SIGNS:
            continue
        a, b = x(one.start_s), x(one.end_s)
        rail = "ink dot" if one.kind == "rest" else "ink"
        parts.append(segment(a, 30, max(b, a + 1), 30, rail))
        if one.kind == "hyperaemia":
            parts.append(segment(a, 33, b, 33, "ink"))
        word = SIGNS[one.kind]
        row = next((k for k in (0, 1) if a >= free[k]), None)
        if row is not None:
            wide = 5.2 * len(word)
            late = a + wide > x.q + RIGHT  # at the end of the strip the word stands before its end
            parts.append(text(x.q + RIGHT if late else a, 24 - 11 * row, word,
                              "small end" if late else "small"))  # fmt: skip
            free[row] = a + 5.2 * len(word) + 8
    return "".join(parts)


def _settled_s(result: Result) -> float:
    """Return when the set-up was over: what comes before it does not set a scale."""
    first = min((i.time_s for i in result.injections), default=float("inf"))
    ends = [e.end_s for e in result.episodes if e.kind in SET_UP and e.start_s < first]
    return max(ends, default=0.0)


def _scale(rows: list[Channel], after_s: float) -> tuple[float, float]:
    late = [c.values[max(0, round((after_s - c.start_s) * c.rate_hz)) :] for c in rows]
    good = [v[np.isfinite(v)] for v in late]
    together = np.concatenate(good) if good else np.array([])
    if not together.size:
        return 0.0, 1.0
    low, high = np.percentile(together, SHOWN_SHARE)
    room = max(0.06 * (high - low), 1e-3)
    return float(low - room), float(high + room)


def _frame(x: Axis, y: Axis, unit: str, ticks: int) -> str:
    parts = [segment(x.p, y(v), x.q, y(v), "grid") + text(x.p - 5, y(v) + 3, f"{v:.4g}",
             "soft end small") for v in y.ticks(ticks)]  # fmt: skip
    return "".join(parts) + text(x.p - 5, min(y.p, y.q) - 3, unit, "soft end small")


def _trace(channel: Channel, x: Axis, y: Axis, classes: str) -> str:
    t, v = extremes(channel.times_s(), channel.values)
    shown = np.clip(v, min(y.a, y.b), max(y.a, y.b))
    return line([(x(a), y(b)) for a, b in zip(t.tolist(), shown.tolist(), strict=True)], classes)


def _pressure(signals: Measured, x: Axis, place: tuple[float, float], after_s: float) -> str:
    top, tall = place
    recording = signals.recording
    rows = [recording.channel(n) for n in ("pa", "pd") if n in recording]
    low, high = _scale(rows, after_s)
    y = Axis(low, high, top + tall, top)
    pulses = "".join(_trace(c, x, y, f"{c.name} pale") for c in rows)
    means = "".join(_means(signals, c.name, x, y) for c in rows)
    return _frame(x, y, "mmHg", 4) + pulses + means + _letters(signals, rows, x, y, after_s)


def _letters(signals: Measured, rows: list[Channel], x: Axis, y: Axis, after_s: float) -> str:
    """Write the letter of each pressure at the right, and where the two lie widest apart.

    In print without colour the letters tell the lines from each other.
    """
    parts = [text(x.q + 4, y.q + 12 + 13 * k, c.name[1].upper(), f"{c.name}-ink")
             for k, c in enumerate(rows)]  # fmt: skip
    if len(rows) == 2:
        ends, pa, pd = (np.asarray(getattr(signals.beats, n), float)
                        for n in ("end_s", "pa_mean_mmhg", "pd_mean_mmhg"))  # fmt: skip
        apart = np.where((ends > after_s) & np.isfinite(pa - pd), pa - pd, -np.inf)
        size = min(STEADY_BEATS, apart.size)
        if size and np.isfinite(apart).any():
            steady = np.array([apart[k : k + size].min() for k in range(apart.size - size + 1)])
            k = int(steady.argmax()) + size // 2
            if np.isfinite(pa[k] - pd[k]):
                parts.append(text(x(ends[k]), y(pa[k]) - 4, "A", "pa-ink mid"))
                parts.append(text(x(ends[k]), y(pd[k]) + 12, "D", "pd-ink mid"))
    return "".join(parts)


def _means(signals: Measured, name: str, x: Axis, y: Axis) -> str:
    """Draw the mean of each beat: in an hour of pulses the pressures are told apart by it."""
    beats = signals.beats
    ends = np.asarray(beats.end_s, float).tolist()
    means = np.asarray(getattr(beats, f"{name}_mean_mmhg"), float)
    shown = np.clip(means, min(y.a, y.b), max(y.a, y.b)).tolist()
    points: list[tuple[float, float]] = []
    last = -np.inf
    for t, v in zip(ends, shown, strict=True):
        if t - last > PAUSE_S:
            points.append((x(t), np.nan))
        points.append((x(t), y(v)))
        last = t
    return line(points, f"{name} mean")


def _ratio(signals: Measured, x: Axis, place: tuple[float, float], after_s: float) -> str:
    top, tall = place
    beats = signals.beats
    end, pa, pd = (np.asarray(v, float) for v in
                   (beats.end_s, beats.pa_mean_mmhg, beats.pd_mean_mmhg))  # fmt: skip
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(pa > 0, pd / pa, np.nan)
    good = ratio[np.isfinite(ratio) & (end > after_s)]
    if not good.size:
        return ""
    low, high = np.percentile(good, (1, 99))
    y = Axis(min(0.7, float(low) - 0.05), max(1.05, min(float(high) + 0.02, 1.3)),
             top + tall, top)  # fmt: skip
    points: list[tuple[float, float]] = []
    last = float("nan")
    for t, v in zip(end.tolist(), np.clip(ratio, y.a, y.b).tolist(), strict=True):
        points += [(x(t), last), (x(t), y(v))]
        last = y(v)
    return _frame(x, y, "Pd/Pa", 3) + line(points, "ratio")


def _temperature(channel: Channel, x: Axis, place: tuple[float, float], result: Result) -> str:
    top, tall = place
    low, high = _scale([channel], _settled_s(result))
    y = Axis(low, high, top + tall, top)
    parts = [_frame(x, y, "°C", 2), _trace(channel, x, y, "temp"),
             text(x.q + 4, top + 12, "T", "temp-ink")]  # fmt: skip
    last = -99.0
    for one in result.injections:
        at = x(one.time_s)
        parts.append(segment(at, top + tall - 7, at, top + tall, "ink"))
        if at - last > 14:
            parts.append(text(at + 2, top + tall - 2, one.label, "small"))
            last = at
    return "".join(parts)
