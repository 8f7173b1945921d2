"""What <trace-view> is told: its strips, marks, damaged stretches and beats."""

import struct
from collections.abc import Iterable
from typing import Any

import numpy as np

from arteriole.recording import Mark
from arteriole.study.marks import SAME_INJECTION_S
from arteriole.web.desk import Reading
from arteriole.web.texts import Texts

#: Fixed limits of the Pd/Pa axis: a picture of one patient can be laid beside another's.
RATIO_LIMITS = (0.3, 1.1)
WEIGHTS = {"pressure": 4.0, "ratio": 1.7, "temperature": 2.2, "shaft_temp": 1.0, "ecg": 1.0}
OTHER_WEIGHT = 0.9
LETTERS = {"pa": "A", "pd": "D", "temp": "T", "shaft_temp": "S", "ecg": "E"}
SHOWN_KINDS = ("zeroing", "equalisation", "rest", "hyperaemia", "infusion", "pullback",
               "drift_check", "flush", "unusable")  # fmt: skip


def plan_of(reading: Reading, t: Texts) -> dict[str, Any]:
    """Return the strips in order, with limits of their axes, and the channels of the wire."""
    channels = {p.name: p for p in reading.laid.pyramids}
    strips: list[dict[str, Any]] = []
    pressures: list[str] = [n for n in ("pa", "pd") if n in channels]
    if pressures:
        low = min(channels[n].limits[0] for n in pressures)
        high = max(channels[n].limits[1] for n in pressures)
        strips.append(_strip("pressure", pressures, min(0.0, 20 * np.floor(low / 20)),
                             max(100.0, 20 * np.ceil((high + 4) / 20)), t))  # fmt: skip
    if len(pressures) == 2:
        strips.append(_strip("ratio", [], *RATIO_LIMITS, t))
    for name in (n for n in ("temp", "shaft_temp", "ecg") if n in channels):
        low, high = channels[name].limits
        if name == "temp":
            low, high = _around_boluses(reading, channels[name].middle, low, high)
        room = max(0.1, 0.08 * (high - low))
        kind = "temperature" if name == "temp" else name
        strips.append(_strip(kind, [name], low - room, high + room, t))
        if name == "temp":
            strips[-1]["baseline"] = channels[name].middle
    for other, channel in channels.items():
        if other not in LETTERS:
            low, high = channel.limits
            strips.append(_strip(other, [other], low, high if high > low else low + 1, t))
    rail = "pa" if "pa" in channels else next(iter(channels))
    return {
        "duration_s": reading.laid.recording.duration_s,
        "channels": list(channels),
        "strips": strips,
        "letters": {n: LETTERS[n] for n in channels if n in LETTERS},
        "rail": rail,
        "rail_limits": list(channels[rail].limits),
    }


def view_of(reading: Reading) -> dict[str, Any]:
    """Return spans, injection notches, damaged stretches and the windows of every index."""
    result = reading.result
    spans = [
        {"id": mark_of(reading.marks, e.kind, e.start_s, e.end_s) or e.id, "kind": e.kind,
         "start_s": e.start_s, "end_s": e.end_s, "source": e.source, "note": e.note}
        for e in sorted(result.episodes, key=lambda e: (e.start_s, e.kind))
        if e.kind in SHOWN_KINDS
    ]  # fmt: skip
    seen: set[str] = set()
    for span in spans:  # two found stretches may share kind and tenth of a second
        while span["id"] in seen:
            span["id"] += "+"
        seen.add(str(span["id"]))
    return {
        "spans": spans,
        "notches": [
            {"id": injection_mark(reading.marks, i.time_s) or i.id, "label": i.label,
             "time_s": i.time_s, "verdict": i.verdict, "phase": i.phase, "source": i.source}
            for i in result.injections
        ],
        "damaged": [
            {"channel": s.channel, "start_s": s.start_s, "end_s": s.end_s, "code": s.code}
            for s in _damaged(reading)
        ],
        "windows_s": {i.key: [list(w) for w in i.windows_s] for i in result.indices},
    }  # fmt: skip


def beats_of(reading: Reading) -> bytes:
    """Return the beats in the wire form described in ``static/trace-wire.js``."""
    beats = reading.laid.measurement.beats
    usable = np.asarray(reading.laid.measurement.quality.clean, dtype=np.uint8)
    return struct.pack("<II", beats.count, 0) + b"".join(
        np.ascontiguousarray(values, kind).tobytes()
        for values, kind in (
            (beats.start_s, "<f8"), (beats.end_s, "<f8"), (beats.pa_mean_mmhg, "<f4"),
            (beats.pd_mean_mmhg, "<f4"), (usable, "u1"),
        )
    )  # fmt: skip


def mark_of(marks: dict[str, Mark], kind: str, start_s: float, end_s: float) -> str | None:
    """Return the identity of the mark that made this stretch."""
    for key, mark in marks.items():
        if mark.kind == kind and mark.start_s == start_s and mark.end_s == end_s:
            return key
    return None


def injection_mark(marks: dict[str, Mark], time_s: float) -> str | None:
    """Return the identity of the mark that speaks of the injection at this time."""
    near = {
        key: abs(mark.time_s - time_s)
        for key, mark in marks.items()
        if mark.kind == "injection" and mark.time_s is not None
        and abs(mark.time_s - time_s) <= SAME_INJECTION_S
    }  # fmt: skip
    return min(near, key=near.__getitem__) if near else None


def _around_boluses(
    reading: Reading, middle: float, low: float, high: float
) -> tuple[float, float]:
    """Return limits that show the boluses; a sensor still outside the body lies beyond, flagged."""
    drops = [
        float(np.nanmax(i.reading.curve.drop_c))
        for i in reading.result.injections
        if i.reading.curve is not None and i.reading.curve.drop_c.size
    ]
    if not drops:
        return low, high
    deepest = max(drops)
    return max(low, middle - 1.5 * deepest), min(high, middle + 0.5 * deepest)


def _damaged(reading: Reading) -> Iterable[Any]:
    spans: Iterable[Any] = reading.laid.measurement.quality.spans
    return spans


def _strip(kind: str, channels: list[str], low: float, high: float, t: Texts) -> dict[str, Any]:
    label = t(f"strip.{kind}") if kind in {*WEIGHTS} else kind
    return {
        "kind": kind, "label": label, "channels": channels, "lo": float(low), "hi": float(high),
        "weight": WEIGHTS.get(kind, OTHER_WEIGHT),
    }  # fmt: skip
