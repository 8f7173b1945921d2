"""What every detector looks at, computed once: grid, beats and the shape of each beat."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Flags, Grid, Indices
from arteriole.signal.graded import Span
from arteriole.signal.r_waves import find_r_waves, waves_per_beat
from arteriole.signal.ratios import extremes
from arteriole.signal.smooth import moving_mean, rolling_median, running_sum, slope

STEEP_S = 0.012  # half the box of the steepest rise
FINE_S, COARSE_S = 0.008, 0.024  # between them: what is faster than 20 Hz, a wire's strike
SWING_S = 0.045  # half a period at 11 Hz: an underdamped line swings at 8 to 15 Hz
AGREES = 0.8  # of the beats hold one R wave, else the ECG is not asked; decision 0034
NEIGHBOURS = 21  # beats around that say what is usual


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Grid, beats and per-beat shape; arrays of shape (beats,).

    ``*_pulse_mmhg``: systolic less diastolic; ``*_sharp_hz``: steepest rise over pulse, 1/s;
    ``*_fast_mmhg``: root mean square of what is faster than 20 Hz; ``*_swing_mmhg``: the same
    for a band around 11 Hz; ``lag_s``: steepest rise of Pa after that of Pd;
    ``r_waves``: R waves in each beat, None without an ECG that agrees with the pressure.
    """

    grid: Grid
    beats: Beats
    pa_pulse_mmhg: Samples
    pd_pulse_mmhg: Samples
    pa_sharp_hz: Samples
    pd_sharp_hz: Samples
    pa_fast_mmhg: Samples
    pd_fast_mmhg: Samples
    pa_swing_mmhg: Samples
    pd_swing_mmhg: Samples
    lag_s: Samples
    r_waves: Indices | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What one detector saw; flags of shape (beats,), True = harmed, None = none."""

    code: str
    spans: tuple[Span, ...] = ()
    findings: tuple[Finding, ...] = ()
    pa_bad: Flags | None = None
    pd_bad: Flags | None = None
    shape_bad: Flags | None = None
    irregular: Flags | None = None
    probability: Samples | None = None


def look(grid: Grid, beats: Beats) -> Scene:
    """Return the scene of a grid and its beats."""
    start, end, rate = beats.start_i, beats.end_i, grid.rate_hz
    width = max(round(STEEP_S * rate), 1)
    rows = {}
    at = {}
    for name, x in (("pa", grid.pa_mmhg), ("pd", grid.pd_mmhg)):
        rise = slope(x, width) * (rate / width)
        rows[f"{name}_steep"] = extremes(np.maximum, rise, start, end)
        fast = moving_mean(x, round(FINE_S * rate)) - moving_mean(x, round(COARSE_S * rate))
        rows[f"{name}_fast_mmhg"] = _rms(fast, beats)
        rows[f"{name}_swing_mmhg"] = _rms(_second_difference(x, round(SWING_S * rate)), beats)
        at[name] = _place_of_steepest(rise, beats, rate)
    pa_pulse = beats.pa_systolic_mmhg - beats.pa_diastolic_mmhg
    pd_pulse = beats.pd_systolic_mmhg - beats.pd_diastolic_mmhg
    return Scene(
        grid=grid,
        beats=beats,
        pa_pulse_mmhg=pa_pulse,
        pd_pulse_mmhg=pd_pulse,
        pa_sharp_hz=rows["pa_steep"] / np.maximum(pa_pulse, 1.0),
        pd_sharp_hz=rows["pd_steep"] / np.maximum(pd_pulse, 1.0),
        pa_fast_mmhg=rows["pa_fast_mmhg"],
        pd_fast_mmhg=rows["pd_fast_mmhg"],
        pa_swing_mmhg=rows["pa_swing_mmhg"],
        pd_swing_mmhg=rows["pd_swing_mmhg"],
        lag_s=at["pa"] - at["pd"],
        r_waves=_r_waves(grid, beats),
    )


def _r_waves(grid: Grid, beats: Beats) -> Indices | None:
    if grid.ecg_mv is None or not beats.count:
        return None
    waves = find_r_waves(grid.ecg_mv, grid.rate_hz)
    count = waves_per_beat(waves, beats.start_i, beats.end_i, grid.rate_hz)
    return count if float((count == 1).mean()) >= AGREES else None


def _rms(x: Samples, beats: Beats) -> Samples:
    total = running_sum(x * x)
    length = np.maximum(beats.end_i - beats.start_i, 1)
    mean = (total[beats.end_i] - total[beats.start_i]) / length
    return np.asarray(np.sqrt(np.maximum(mean, 0.0)))


def _second_difference(x: Samples, h: int) -> Samples:
    h = max(h, 1)
    row = np.full(x.size, np.nan)
    if x.size > 2 * h:
        row[h:-h] = x[h:-h] - 0.5 * (x[: -2 * h] + x[2 * h :])
    return row


def _place_of_steepest(rise: Samples, beats: Beats, rate_hz: float) -> Samples:
    """Return the centre of the steep part of each upstroke, s after the foot, shape (beats,)."""
    before, length = round(0.08 * rate_hz), max(round(0.36 * rate_hz), 1)
    at = beats.start_i[:, None] - before + np.arange(length)[None, :]
    inside = (at >= 0) & (at < rise.size)
    rows = np.where(inside, rise[np.clip(at, 0, max(rise.size - 1, 0))], np.nan)
    known = ~np.isnan(rows).all(axis=1)
    rows = np.nan_to_num(rows, nan=0.0)
    top = rows.max(axis=1, keepdims=True)
    weight = np.where(rows > 0.6 * top, rows, 0.0)
    total = weight.sum(axis=1)
    centre = (weight * np.arange(length)).sum(axis=1) / np.maximum(total, 1e-9)
    return np.where(known & (total > 0.0), (centre - before) / rate_hz, np.nan)


def usual(values: Samples, width: int = NEIGHBOURS) -> Samples:
    """Return the median of the beats around each beat, shape (beats,)."""
    return rolling_median(values, width) if values.size else values


def pulse_over_usual(pulse_mmhg: Samples) -> Samples:
    """Return each beat's pulse over that of the beats around it, shape (beats,)."""
    return pulse_mmhg / np.maximum(usual(pulse_mmhg), 1.0)


def spans_of_beats(
    code: str, channel: str, flags: Flags, beats: Beats, *, join_s: float = 1.0
) -> tuple[Span, ...]:
    """Return flagged beats as stretches; those closer than ``join_s`` become one."""
    found: list[tuple[float, float]] = []
    for start, end in zip(beats.start_s[flags].tolist(), beats.end_s[flags].tolist(), strict=True):
        if found and start - found[-1][1] <= join_s:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return tuple(Span(code=code, channel=channel, start_s=a, end_s=b) for a, b in found)


def spans_of_samples(
    code: str, channel: str, stretches: npt.NDArray[np.int64], grid: Grid
) -> tuple[Span, ...]:
    """Return stretches in samples, shape (stretches, 2), as spans in seconds."""
    return tuple(
        Span(code=code, channel=channel, start_s=grid.time_s(a), end_s=grid.time_s(b))
        for a, b in stretches.tolist()
    )


def touched(spans: tuple[Span, ...], beats: Beats, margin_s: float = 0.0) -> Flags:
    """Return which beats a span touches, shape (beats,)."""
    hit = np.zeros(beats.count, dtype=np.bool_)
    for s in spans:
        hit |= (beats.end_s > s.start_s - margin_s) & (beats.start_s < s.end_s + margin_s)
    return hit


def seconds(spans: tuple[Span, ...]) -> float:
    """Return the total length of the spans, s."""
    return sum(s.end_s - s.start_s for s in spans)
