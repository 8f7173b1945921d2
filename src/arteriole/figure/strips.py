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
SHOWN_SHARE = (0.2, 99.8)  # percentiles that set a scale, so one wild sample does not
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


def session_strips(result: Result, signals: Measured) -> str:
    """Return the strips of the whole recording as one SVG element."""
    recording = signals.recording
    x = Axis(0.0, max(recording.duration_s, 1e-3), LEFT, WIDTH - RIGHT)
    parts = [_rails(result, x)]
    y = RAILS
    if "pa" in recording or "pd" in recording:
        parts.append(_pressure(recording, x, y, _settled_s(result)))
        y += PRESSURE + GAP
        ratio = _ratio(signals, x, y, _settled_s(result))
        if ratio:
            parts.append(ratio)
            y += RATIO + GAP
    if "temp" in recording:
        parts.append(_temperature(recording.channel("temp"), x, y, result))
        y += TEMPERATURE + GAP
    parts += [text(x(t), y + 4, f"{t:g}", "soft mid small") for t in x.ticks(10)]
    parts.append(text(WIDTH - RIGHT, y + 15, "seconds from the start", "soft end small"))
    return drawing(WIDTH, y + 20, parts, _title(result))


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
            parts.append(text(a, 24 - 11 * row, word, "small"))
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


def _pressure(recording: Recording, x: Axis, top: float, after_s: float) -> str:
    rows = [recording.channel(n) for n in ("pa", "pd") if n in recording]
    low, high = _scale(rows, after_s)
    y = Axis(low, high, top + PRESSURE, top)
    ends = "".join(
        text(x.q + 4, top + 12 + 13 * k, c.name[1].upper(), f"{c.name}-ink")
        for k, c in enumerate(rows)
    )
    return _frame(x, y, "mmHg", 4) + "".join(_trace(c, x, y, c.name) for c in rows) + ends


def _ratio(signals: Measured, x: Axis, top: float, after_s: float) -> str:
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
             top + RATIO, top)  # fmt: skip
    points: list[tuple[float, float]] = []
    last = float("nan")
    for t, v in zip(end.tolist(), np.clip(ratio, y.a, y.b).tolist(), strict=True):
        points += [(x(t), last), (x(t), y(v))]
        last = y(v)
    return _frame(x, y, "Pd/Pa", 3) + line(points, "ratio")


def _temperature(channel: Channel, x: Axis, top: float, result: Result) -> str:
    low, high = _scale([channel], _settled_s(result))
    y = Axis(low, high, top + TEMPERATURE, top)
    parts = [_frame(x, y, "°C", 2), _trace(channel, x, y, "temp"),
             text(x.q + 4, top + 12, "T", "temp-ink")]  # fmt: skip
    last = -99.0
    for one in result.injections:
        at = x(one.time_s)
        parts.append(segment(at, top + TEMPERATURE - 7, at, top + TEMPERATURE, "ink"))
        if at - last > 14:
            parts.append(text(at + 2, top + TEMPERATURE - 2, one.label, "small"))
            last = at
    return "".join(parts)
