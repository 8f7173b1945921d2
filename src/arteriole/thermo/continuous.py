r"""Continuous thermodilution: steady blood, mixed and infusate temperatures, then flow.

::

    blood ______                         ______
                \                       /          T  mixed, sensor downstream
                 \____T____            /           Ti infusate, sensor drawn back to the outlet
                           \_____Ti___/

Q = 1.08 (Ti / T) Qi, both temperatures as differences from blood [Aarnoudse2007]. 1.08 is density
times heat capacity of saline over that of blood.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.bins import bin_means

HEAT_RATIO = 1.08  # saline over blood, [Aarnoudse2007]
STEP_S = 0.1  # grid of the search, s; decision 0054
SMOOTH_S = 2.0  # moving average of the trace, s, common practice, no source
T_WINDOW_S, TI_WINDOW_S = 15.0, 6.0  # longest windows read, s; decision 0054
BLOOD_WINDOWS_S = (12.0, 8.0, 5.0, 3.0)  # the longest that is level is read, s; decision 0054
LATE_IF = 2.0  # a later T window may be this much less steady; decision 0054
AFTER_S = 15.0  # blood has recovered this long after the infusate is gone, s; decision 0054
NEXT_DROP_C = 0.10  # a fall by this much after recovery is the next infusion, °C; decision 0054
LEVEL_C = 0.03  # a straight line may climb this much within a level window, °C; decision 0054
SHORTEST_S = 2.0  # a shorter plateau is none; decision 0054
SETTLE_S = 2.0  # skipped after the sensor was moved, s; decision 0054
ONSET_DROP_C = 0.06  # below blood: the infusion is felt; decision 0054
TI_SHARE = 0.75  # of the deepest drop: the sensor is at the outlet; decision 0054
AROUND_S = 35.0  # how far beyond the episode blood is looked for, s; decision 0054
#: Plausibility, all from science of the method by memory, no source: decision 0054.
SMALLEST_T_C, SMALLEST_TI_C, SMALLEST_RATIO = 0.1, 2.0, 1.2
UNSTEADY_SHARE = 0.10  # slope over the window, or SD, against T; decision 0054
HEAT_RATIO_SHARE = 0.01  # standard uncertainty of 1.08: haematocrit; decision 0054
#: How far mixing at the outlet falls short of full, share of Q; bench repeats lie within 8 %
#: [vantVeer2016], so an SD of 4 % of which the temperatures explain a part; decision 0054.
MIXING_SHARE = 0.03
CLIPPED_SHARE = 0.5  # of the samples of the infusate plateau at one and the same value
PUMP_SHARE = 0.01  # of the pump's rate; from memory, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Plateau:
    """A steady stretch: mean, SD of the smoothed trace in it, slope, and where it lies."""

    mean_c: float
    sd_c: float
    slope_c_s: float
    mean_sd_c: float
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContinuousReading:
    """Flow of one infusion with what it rests on.

    ``t_c``, ``ti_c``: differences from blood, negative = colder; ``blood``, ``mixed``,
    ``infusate``: the plateaus; ``sd_ml_min``: standard uncertainties of ``q_ml_min`` by source;
    ``faults``: codes in order of weight; ``trace_t_s``, ``trace_c``: smoothed temperature as a
    difference from blood. ``q_ml_min`` None: no flow, and ``faults`` says why.
    """

    start_s: float
    end_s: float
    infusion_ml_min: float | None
    q_ml_min: float | None
    t_c: float | None
    ti_c: float | None
    blood: Plateau | None
    mixed: Plateau | None
    infusate: Plateau | None
    sd_ml_min: Mapping[str, float] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    trace_t_s: Samples | None = None
    trace_c: Samples | None = None

    @property
    def steady(self) -> bool:
        """Whether both plateaus were steady."""
        return self.q_ml_min is not None and "unsteady" not in self.faults


FAULT_WORDS = {
    "no_plateau": "no steady plateau of T and Ti",
    "no_rate": "infusion rate not on the sheet",
    "clipped": "Ti lies beyond the recorder's range",
    "ti_warm": "Ti is not colder than T",
    "t_small": "T is too small",
    "ti_small": "Ti is too warm",
    "ratio_small": "Ti and T hardly differ",
    "unsteady": "T or Ti not steady",
    "blood_unsteady": "blood temperature not steady",
    "slow_infusion": "infusion too slow for steady mixing",
}
SLOWEST_ML_MIN = 8.0  # 6 mL/min gives no stable trace, 8-10 does, [Gallinoro2021]


def read_continuous(
    *,
    temp_c: Samples,
    rate_hz: float,
    start_s: float,
    infusion_start_s: float,
    infusion_end_s: float,
    infusion_ml_min: float | None,
) -> ContinuousReading:
    """Return the flow of the infusion between two times.

    Parameters
    ----------
    temp_c : Samples
        Shape (n,), °C, absolute or relative to blood, NaN = lost.
    rate_hz : float
        Samples per second.
    start_s : float
        Time of the first sample, s from the recording's start.
    infusion_start_s, infusion_end_s : float
        The episode, s; right to a few seconds. Ti may lie in it or just after it.
    infusion_ml_min : float | None
        Pump rate.
    """  # fmt: skip
    from_s = max(infusion_start_s - AROUND_S, start_s)
    to_s = min(infusion_end_s + AROUND_S, start_s + (temp_c.size - 1) / rate_hz)
    bins = int((to_s - from_s) / STEP_S)

    def nothing(*faults: str) -> ContinuousReading:
        return ContinuousReading(
            start_s=infusion_start_s, end_s=infusion_end_s, infusion_ml_min=infusion_ml_min,
            q_ml_min=None, t_c=None, ti_c=None, blood=None, mixed=None, infusate=None,
            faults=faults,
        )  # fmt: skip

    if bins < int(3.0 * T_WINDOW_S / STEP_S):
        return nothing("no_plateau")
    raw = bin_means(temp_c, rate_hz, start_s=start_s, from_s=from_s, step_s=STEP_S, bins=bins)
    t = from_s + (np.arange(bins, dtype=np.float64) + 0.5) * STEP_S
    good = np.isfinite(raw)
    if good.mean() < 0.5:
        return nothing("no_plateau")
    temp = np.interp(t, t[good], raw[good])
    onset = _onset(temp, t, infusion_start_s)
    before = _level(temp, t, onset - 0.3, ends=True)
    if before is None:
        return nothing("no_plateau")
    drop = before.mean_c - _moving(temp, int(0.5 / STEP_S))
    inside = (t > onset) & (t < infusion_end_s + 15.0)
    if not inside.any():
        return nothing("no_plateau")
    lowest = int(np.argmax(np.where(inside, drop, -np.inf)))
    cold = drop > TI_SHARE * drop[lowest]
    left, right = lowest, lowest
    while left > 0 and cold[left - 1]:
        left -= 1
    while right < bins - 1 and cold[right + 1]:
        right += 1
    infusate = _steadiest(temp, t, t[left] + SETTLE_S, t[right] - 0.7, TI_WINDOW_S)
    mixed = _steadiest(temp, t, onset + 5.0, t[left] - 1.0, T_WINDOW_S, late=True)
    if infusate is None or mixed is None:
        return nothing("no_plateau")
    blood = _blood_at(before, temp, t, t[right], 0.5 * (mixed.start_s + mixed.end_s))
    t_c, ti_c = mixed.mean_c - blood.mean_c, infusate.mean_c - blood.mean_c
    k = slice(*(int((s - start_s) * rate_hz) for s in (infusate.start_s, infusate.end_s)))
    part = temp_c[k][np.isfinite(temp_c[k])]
    clipped = part.size > 0 and float(np.mean(part <= part.min())) > CLIPPED_SHARE
    faults = (("clipped",) if clipped else ()) + _faults(
        t_c, ti_c, mixed, infusate, blood, infusion_ml_min
    )
    q, sd = None, {}
    if infusion_ml_min is not None and t_c < 0.0 and ti_c < t_c and not clipped:
        q = HEAT_RATIO * (ti_c / t_c) * infusion_ml_min
        sd = {
            "mixed temperature": q * mixed.mean_sd_c / -t_c,
            "infusate temperature": q * infusate.mean_sd_c / -ti_c,
            "blood temperature": q * blood.mean_sd_c * abs(1.0 / t_c - 1.0 / ti_c),
            "heat ratio": q * HEAT_RATIO_SHARE,
            "pump": q * PUMP_SHARE,
            "mixing": q * MIXING_SHARE,
        }
    return ContinuousReading(
        start_s=infusion_start_s, end_s=infusion_end_s, infusion_ml_min=infusion_ml_min,
        q_ml_min=q, t_c=t_c, ti_c=ti_c, blood=blood, mixed=mixed, infusate=infusate,
        sd_ml_min=sd, faults=faults, trace_t_s=t,
        trace_c=_moving(temp, int(SMOOTH_S / STEP_S)) - blood.mean_c,
    )  # fmt: skip


def _faults(
    t_c: float, ti_c: float, mixed: Plateau, infusate: Plateau, blood: Plateau,
    infusion_ml_min: float | None,
) -> tuple[str, ...]:  # fmt: skip
    allowed = UNSTEADY_SHARE * max(-t_c, SMALLEST_T_C)
    shaky = (
        abs(mixed.slope_c_s) * (mixed.end_s - mixed.start_s) > allowed
        or mixed.sd_c > allowed
        or infusate.sd_c > UNSTEADY_SHARE * max(-ti_c, SMALLEST_TI_C)
    )
    tests = {
        "no_rate": infusion_ml_min is None,
        "ti_warm": ti_c >= t_c,
        "t_small": -t_c < SMALLEST_T_C,
        "ti_small": -ti_c < SMALLEST_TI_C,
        "ratio_small": t_c < 0.0 and ti_c / t_c < SMALLEST_RATIO,
        "slow_infusion": infusion_ml_min is not None and infusion_ml_min < SLOWEST_ML_MIN,
        "unsteady": shaky,
        "blood_unsteady": blood.mean_sd_c > 0.5 * allowed,
    }
    return tuple(code for code, found in tests.items() if found)


def _moving(values: Samples, width: int) -> Samples:
    width = max(width, 1)
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), "valid")


def _onset(temp: Samples, t: Samples, near_s: float) -> float:
    """Return when the temperature leaves blood for good, s, near the episode's start."""
    smooth = _moving(temp, int(0.5 / STEP_S))
    before = smooth[(t > near_s - 6.0) & (t < near_s - 1.0)]
    if before.size < 10:
        return near_s
    level = float(np.percentile(before, 75.0))
    noise = float(np.std(np.diff(before)))
    low = smooth < level - max(ONSET_DROP_C, 4.0 * noise)
    ahead = np.flatnonzero(low & (t > near_s - 4.0) & (t < near_s + 15.0))
    for k in ahead:
        if low[k : k + int(4.0 / STEP_S)].all():
            return float(t[k]) - 0.3
    return near_s


def _steadiest(
    temp: Samples, t: Samples, from_s: float, to_s: float, longest_s: float, *, late: bool = False
) -> Plateau | None:
    """Return the steadiest stretch between two times, at most ``longest_s`` long."""
    span = to_s - from_s
    if span < SHORTEST_S:
        return None
    width = int(min(longest_s, span) / STEP_S)
    index = np.flatnonzero((t >= from_s) & (t <= to_s))
    width = min(width, index.size)
    x = (np.arange(width) - 0.5 * (width - 1)) * STEP_S
    smooth = _moving(temp, int(1.0 / STEP_S))
    windows = np.lib.stride_tricks.sliding_window_view(smooth[index], width)
    slope = windows @ x / float(x @ x)
    spread = windows.std(axis=1)
    score = spread + 0.5 * np.abs(slope) * width * STEP_S
    k = int(np.argmin(score))
    if late:  # mixing settles slowly: the latest stretch that is about as steady as the steadiest
        k = int(np.flatnonzero(score <= LATE_IF * score[k])[-1])
    part = temp[index[k] : index[k] + width]
    return _plateau(part, float(t[index[k]]), float(slope[k]), float(spread[k]))


def _level(
    temp: Samples, t: Samples, end_s: float, *, ends: bool, floor: float = -np.inf
) -> Plateau | None:
    """Return the longest level stretch that ends at a time (or before it, ``ends`` False)."""
    smooth = _moving(temp, int(1.0 / STEP_S))
    for length in BLOOD_WINDOWS_S:
        n = int(length / STEP_S)
        index = np.flatnonzero((t > floor) & (t <= end_s))
        if index.size < n:
            continue
        starts = (index[-n],) if ends else index[: index.size - n + 1 : 5]
        x = (np.arange(n) - 0.5 * (n - 1)) * STEP_S
        found = [(abs(float(smooth[k : k + n] @ x / (x @ x))) * length, int(k)) for k in starts]
        climb, k = min(found)
        if climb < LEVEL_C:
            return _plateau(temp[k : k + n], float(t[k]), climb / length,
                            float(smooth[k : k + n].std()))  # fmt: skip
    index = np.flatnonzero((t > floor) & (t <= end_s))
    n = int(BLOOD_WINDOWS_S[-1] / STEP_S)
    if not ends or index.size < 5:
        return None
    part = temp[index[-min(n, index.size)] : index[-1] + 1]
    return _plateau(part, float(t[index[-1]]) - part.size * STEP_S, 0.0, float(part.std()))


def _plateau(part: Samples, start_s: float, slope: float, spread: float) -> Plateau:
    blocks = max(part.size // int(1.0 / STEP_S), 1)
    means = np.array([b.mean() for b in np.array_split(part, blocks)])
    sem = float(means.std(ddof=1) / np.sqrt(blocks)) if blocks > 1 else spread
    return Plateau(
        mean_c=float(part.mean()), sd_c=spread, slope_c_s=slope, mean_sd_c=max(sem, 1e-4),
        start_s=start_s - 0.5 * STEP_S, end_s=start_s + (part.size - 0.5) * STEP_S,
    )  # fmt: skip


def _blood_at(before: Plateau, temp: Samples, t: Samples, drawn_s: float, at_s: float) -> Plateau:
    """Return blood at a time between the plateau before and the one after, where there is one."""
    last_s = min(drawn_s + AROUND_S, float(t[-1]))
    risen = np.flatnonzero((t > drawn_s + 3.0) & (t <= last_s))
    level = _moving(temp, int(1.0 / STEP_S))[risen]
    falls = np.flatnonzero(level < np.maximum.accumulate(level) - NEXT_DROP_C) if (
        risen.size) else risen  # fmt: skip
    if falls.size:  # the next infusion has begun
        last_s = float(t[risen[falls[0]]]) - 2.0
    after = _level(temp, t, last_s, ends=False, floor=drawn_s + AFTER_S)
    trusted = after is not None and abs(after.mean_c - before.mean_c) < 0.1
    if after is None or not trusted:
        apart = 0.0 if after is None else 0.5 * (after.mean_c - before.mean_c)
        sd = float(np.hypot(np.hypot(before.mean_sd_c, 0.01), apart))
        return Plateau(
            mean_c=before.mean_c, sd_c=before.sd_c, slope_c_s=before.slope_c_s, mean_sd_c=sd,
            start_s=before.start_s, end_s=before.end_s,
        )  # fmt: skip
    a, b = 0.5 * (before.start_s + before.end_s), 0.5 * (after.start_s + after.end_s)
    share = (at_s - a) / (b - a)
    mean = before.mean_c + share * (after.mean_c - before.mean_c)
    sd = np.hypot(np.hypot(before.mean_sd_c, after.mean_sd_c) * 0.7,
                  abs(after.mean_c - before.mean_c) / 4.0)  # fmt: skip
    return Plateau(
        mean_c=mean, sd_c=before.sd_c, slope_c_s=(after.mean_c - before.mean_c) / (b - a),
        mean_sd_c=float(np.hypot(sd, 0.003)), start_s=before.start_s, end_s=before.end_s,
    )  # fmt: skip
