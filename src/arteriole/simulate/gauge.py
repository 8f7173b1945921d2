"""What the gauges make of the truth: line, offsets, drift, whip, noise, range, steps, gaps."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.simulate.acts import (
    Act,
    BaselineShift,
    Clip,
    DriftCheck,
    Equalise,
    Flush,
    Inject,
    LineFault,
    Lost,
    Whip,
    WireIntoGuide,
    Zero,
    of_kind,
)  # fmt: skip
from arteriole.simulate.compiled import compiled
from arteriole.simulate.patient import Patient
from arteriole.simulate.wander import wander

Row = npt.NDArray[np.float64]

LINE_SUBSTEP_S = 0.00025
WHIP_HZ, WHIP_DAMPING = 32.0, 0.12  # our choice, decision 0023
ROOM_C = 21.0
SETTLE_S = 1.9  # sensor from room to blood
SPIKE_MMHG_S_ML = 22.0  # pressure of a push in the line
TAP_S = 0.12  # the closed line relaxes with this
BITS = 4096
PRESSURE_RANGE = (-30.0, 300.0)  # mmHg
TEMPERATURE_RANGE_C = (-20.0, 20.48)  # around the reference
EQUALISE_LOOK_S = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gauges:
    """The recorded rows, and what was wrong with the Pd gauge at every sample."""

    pa: Row
    pd: Row
    temp: Row
    shaft: Row
    pd_error: Row  # Pd as read less Pd as it is, noise apart, mmHg


def _second_order(
    state: Row, u: Row, hz: Row, damping: Row, dt: float, steps: int, out: Row
) -> None:
    """Advance ``state`` (position, speed, last input) in place; write ``out``."""
    x, v, before = state
    h = dt / steps
    for k in range(u.shape[0]):
        w = 2.0 * np.pi * hz[k]
        for j in range(steps):
            now = before + (u[k] - before) * (j + 1) / steps
            # implicit in v, so that a stiff line stays stable
            v = (v + h * w * w * (now - x)) / (1.0 + 2.0 * h * damping[k] * w + h * h * w * w)
            x += h * v
        before = u[k]
        out[k] = x
    state[0], state[1], state[2] = x, v, before


def line(u: Row, hz: Row, damping: Row, rate_hz: float) -> Row:
    """Return ``u`` behind a fluid line of the given natural frequency and damping."""
    out = np.empty_like(u)
    steps = max(1, int(np.ceil(1.0 / rate_hz / LINE_SUBSTEP_S)))
    state = np.array([u[0], 0.0, u[0]])
    compiled(_second_order)(state, u, hz, damping, 1.0 / rate_hz, steps, out)
    return out


def read_gauges(
    p: Patient, acts: Sequence[Act], t_s: Row, rate_hz: float, *, pa: Row, pd: Row,
    depression: Row, shaft: Row, inject: Row, relative: bool, stepped: bool,
    streams: Sequence[np.random.Generator],
) -> Gauges:  # fmt: skip
    """Return what is recorded of ``pa``, ``pd`` (mmHg) and the depressions (°C)."""
    n = t_s.size
    a = _pa(p, acts, t_s, rate_hz, pa, inject, streams[0])
    d, error = _pd(p, acts, t_s, rate_hz, pa, pd, streams[1])
    reference = 0.0 if relative else p.blood_c
    slow = wander(streams[2], n, rate_hz, memory_s=25.0, sd=0.02)
    temp = reference - depression + slow
    temp += p.temperature_noise_c * streams[2].standard_normal(n)
    for i in of_kind(acts, WireIntoGuide):
        outside = np.exp(-np.maximum(t_s - i.start_s, 0.0) / SETTLE_S)
        temp += (ROOM_C - p.blood_c) * outside
    for b in of_kind(acts, BaselineShift):
        temp += b.shift_c * np.clip((t_s - b.start_s) / max(b.end_s - b.start_s, 1e-3), 0.0, 1.0)
    s = reference - 0.4 - shaft + wander(streams[3], n, rate_hz, memory_s=30.0, sd=0.05)
    s += p.temperature_noise_c * streams[3].standard_normal(n)
    rows = {"pa": a, "pd": d, "temp": temp, "shaft_temp": s}
    for c in of_kind(acts, Clip):
        on = (t_s >= c.start_s) & (t_s < c.end_s)
        shift = reference - p.blood_c if c.channel == "temp" else 0.0
        cut = np.clip(rows[c.channel], c.low + shift, c.high + shift)
        rows[c.channel] = np.where(on, cut, rows[c.channel])
    if stepped:
        for name, row in rows.items():
            step, low = quantum(name)
            floor = low if name in ("pa", "pd") else low + reference
            rows[name] = floor + np.clip(np.round((row - floor) / step), 0, BITS - 1) * step
    for gap in of_kind(acts, Lost):
        rows[gap.channel][(t_s >= gap.start_s) & (t_s < gap.end_s)] = np.nan
    return Gauges(
        pa=rows["pa"], pd=rows["pd"], temp=rows["temp"], shaft=rows["shaft_temp"], pd_error=error
    )


def quantum(channel: str) -> tuple[float, float]:
    """Return (step, lowest value) of a 12-bit channel."""
    low, high = PRESSURE_RANGE if channel in ("pa", "pd") else TEMPERATURE_RANGE_C
    return (high - low) / BITS, low


def _span(t_s: Row, span_s: tuple[float, float]) -> tuple[int, int]:
    return int(np.searchsorted(t_s, span_s[0])), int(np.searchsorted(t_s, span_s[1]))


def _pa(
    p: Patient, acts: Sequence[Act], t_s: Row, rate_hz: float, pa: Row, inject: Row,
    rng: np.random.Generator,
) -> Row:  # fmt: skip
    hz = np.full_like(t_s, p.line_hz)
    damping = np.full_like(t_s, p.line_damping)
    for f in of_kind(acts, LineFault):
        on = (t_s >= f.start_s) & (t_s < f.end_s)
        hz[on], damping[on] = f.line_hz, f.damping
    seen = pa.copy()
    closed: list[tuple[int, int]] = []
    pushes: list[Inject | Flush] = [*of_kind(acts, Inject), *of_kind(acts, Flush)]
    for act in pushes:
        a, b = _span(t_s, act.lost_s)
        if act.pa == "spike":
            seen[a:b] += SPIKE_MMHG_S_ML * inject[a:b]
        elif act.pa == "flat" and b > a:
            closed.append((a, b))
    row = line(seen, hz, damping, rate_hz)
    for a, b in closed:
        # tap turned to the syringe: the transducer keeps what it had and creeps
        t = (np.arange(b - a) + 1) / rate_hz
        level = 0.82 * row[a] + 0.18 * float(row[max(a - int(rate_hz), 0) : a + 1].mean())
        goal = level + rng.normal(-8.0, 6.0) + rng.normal(0.0, 4.0) * t
        row[a:b] = row[a] + (goal - row[a]) * (1.0 - np.exp(-t / TAP_S))
    offset = np.full_like(t_s, p.pa_offset_mmhg)
    for z in of_kind(acts, Zero):
        row[(t_s >= z.start_s) & (t_s < z.end_s)] = 0.0
        offset[t_s >= z.zeroed_s] = 0.0
    return np.asarray(
        row + offset + p.pressure_noise_mmhg * rng.standard_normal(t_s.size), dtype=np.float64
    )


def _pd(
    p: Patient, acts: Sequence[Act], t_s: Row, rate_hz: float, pa: Row, pd: Row,
    rng: np.random.Generator,
) -> tuple[Row, Row]:  # fmt: skip
    n = t_s.size
    seen = pd.copy()
    for w in of_kind(acts, Whip):
        on = (t_s >= w.start_s) & (t_s < w.end_s)
        blow = np.maximum(np.gradient(pd) * rate_hz, 0.0) * on
        flat = np.full_like(t_s, WHIP_HZ)
        struck = line(blow, flat, np.full_like(t_s, WHIP_DAMPING), rate_hz)
        seen += (struck - blow) * on * (w.gain / 1000.0)
    for i in of_kind(acts, WireIntoGuide):
        # outside: air; in the guide: column pressure first, then the full pulse
        half = 0.5 * (i.start_s + i.end_s)
        share = np.clip((t_s - i.start_s) / (half - i.start_s), 0.0, 1.0)
        column = 0.62 * float(pa[: max(int(i.start_s * rate_hz), 1)].mean())
        seen = np.where(t_s < i.end_s, share * column, seen)
    row = p.pd_gain * seen + p.pd_offset_mmhg
    moved = np.full_like(t_s, p.pd_offset_mmhg)
    creep = wander(rng, n, rate_hz, memory_s=60.0, sd=0.08)
    checks = of_kind(acts, DriftCheck)
    for e in of_kind(acts, Equalise):
        a, b = _span(t_s, (e.end_s - EQUALISE_LOOK_S, e.end_s))
        off = float(pa[a:b].mean() - row[a:b].mean()) + e.error_mmhg
        moved[b:] += off
        end = checks[-1].start_s if checks else float(t_s[-1])
        u = np.clip((t_s - e.end_s) / max(end - e.end_s, 1.0), 0.0, 1.0)
        step_at = 0.35 + 0.5 * rng.random()
        drift = p.drift_mmhg * ((1.0 - p.drift_step) * u + p.drift_step * (u >= step_at))
        moved += drift
    moved += creep
    error = moved + (p.pd_gain - 1.0) * seen
    row = p.pd_gain * seen + moved + p.pressure_noise_mmhg * rng.standard_normal(n)
    return row, np.asarray(error)
