"""From acts to rows over time: what drives the circulation and the cold."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from arteriole.simulate.acts import (
    Act,
    Advance,
    DriftCheck,
    Flush,
    Infuse,
    Inject,
    Migrate,
    Provoke,
    Pullback,
    Wedge,
    of_kind,
)  # fmt: skip
from arteriole.simulate.patient import Patient

Row = npt.NDArray[np.float64]

EDGE = 0.22  # share of a push that is rise, and fall; decision 0022
HEAT_RATIO = 1.08  # saline over blood, density times heat capacity; [Aarnoudse2007]
SENSOR_MOVE_S = 1.5
SPASM_RISE_S = 18.0
SPASM_FALL_S = 25.0
RELIEF_S = 6.0


def push(t_s: Row, start_s: float, end_s: float, volume_ml: float) -> Row:
    """Return the flow of one push, mL/s: cosine edges, exactly ``volume_ml`` in all."""
    span = end_s - start_s
    edge = EDGE * span
    up = np.clip((t_s - start_s) / edge, 0.0, 1.0)
    down = np.clip((end_s - t_s) / edge, 0.0, 1.0)
    shape = 0.25 * (1.0 - np.cos(np.pi * up)) * (1.0 - np.cos(np.pi * down))
    return np.asarray(shape * (volume_ml / (span * (1.0 - EDGE))), dtype=np.float64)


def injected(acts: Sequence[Act], t_s: Row) -> Row:
    """Return what comes out of the guide, mL/s, shape of ``t_s``."""
    row = np.zeros_like(t_s)
    for i in of_kind(acts, Inject):
        for start, end, share in i.pieces:
            _add(row, t_s, start, end, i.volume_ml * share)
    for f in of_kind(acts, Flush):
        _add(row, t_s, f.start_s, f.end_s, f.volume_ml)
    return row


def _add(row: Row, t_s: Row, start_s: float, end_s: float, volume_ml: float) -> None:
    a, b = np.searchsorted(t_s, (start_s, end_s))
    if b > a:
        row[a:b] += push(t_s[a:b], start_s, end_s, volume_ml)


def place(acts: Sequence[Act], t_s: Row) -> Row:
    """Return where the sensor is: 1 first site, 0 guide tip, -1 at the infusion outlet."""
    at: list[tuple[float, float]] = [(-1e9, 0.0)]
    depth = 1.0
    steps: list[Act] = [
        a for a in acts if isinstance(a, Advance | Migrate | Pullback | DriftCheck | Infuse)
    ]
    for a in sorted(steps, key=lambda a: a.start_s):
        match a:
            case Advance():
                at += [(a.start_s, 0.0), (a.end_s, depth)]
            case Migrate():
                at += [(a.start_s, depth), (a.end_s, a.to)]
                depth = a.to
            case Infuse():
                at += [(a.back_s, depth), (a.back_s + SENSOR_MOVE_S, -1.0)]
                at += [(a.end_s, -1.0), (a.end_s + SENSOR_MOVE_S, depth)]
            case Pullback():
                span = a.end_s - a.start_s
                at += [(a.start_s + u * span, depth * left) for u, left in a.path]
                depth = 0.0
            case _:
                at += [(a.start_s - SENSOR_MOVE_S, depth), (a.start_s, 0.0)]
                depth = 0.0
    times, values = zip(*at, strict=True)
    return np.asarray(np.interp(t_s, times, values), dtype=np.float64)


def infusion(patient: Patient, acts: Sequence[Act], t_s: Row) -> tuple[Row, Row, Row]:
    """Return (rate mL/s, depression of the infusate °C, heat carried mL °C/s)."""
    rate, depression = np.zeros_like(t_s), np.zeros_like(t_s)
    for q in of_kind(acts, Infuse):
        on = (t_s >= q.start_s) & (t_s < q.end_s)
        warm = patient.infusate_rest_c if q.state == "rest" else patient.infusate_hyper_c
        settle = 1.0 - np.exp(-np.maximum(t_s - q.start_s, 0.0) / 3.0)
        rate += on * (q.rate_ml_min / 60.0)
        depression += on * (warm * settle)
    return rate, depression, HEAT_RATIO * rate * depression


def wedge(acts: Sequence[Act], t_s: Row) -> Row:
    """Return the resistance of a guide that blocks the ostium, mmHg s/mL."""
    row = np.zeros_like(t_s)
    for w in of_kind(acts, Wedge):
        row += ((t_s >= w.start_s) & (t_s < w.end_s)) * w.resistance_mmhg_s_ml
    return row


def spasm(acts: Sequence[Act], t_s: Row) -> tuple[Row, Row]:
    """Return factors on lumen loss and microvascular resistance from a provocation script."""
    narrow, tone = np.zeros_like(t_s), np.zeros_like(t_s)
    relief = [p.start_s for p in of_kind(acts, Provoke) if p.agent == "nitrate"]
    for p in of_kind(acts, Provoke):
        if p.agent == "nitrate":
            continue
        up = 1.0 - np.exp(-np.maximum(t_s - p.start_s, 0.0) / SPASM_RISE_S)
        down = np.exp(-np.maximum(t_s - p.end_s, 0.0) / SPASM_FALL_S)
        course = np.where(t_s < p.start_s, 0.0, up * down)
        for r in relief:
            if r >= p.start_s:
                course = course * np.exp(-np.maximum(t_s - r, 0.0) / RELIEF_S)
        narrow = np.maximum(narrow, p.narrowing * course)
        tone += np.log(max(p.tone, 1e-3)) * course
    return (1.0 - np.minimum(narrow, 0.85)) ** -4.0, np.exp(tone)
