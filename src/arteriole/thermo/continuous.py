r"""Continuous thermodilution: steady blood, mixed and infusate temperatures, then flow.

::

    blood ______                         ______
                \                       /          T  mixed, sensor downstream
                 \____T____            /           Ti infusate, sensor drawn back to the outlet
                           \_____Ti___/

Q = 1.08 (Ti / T) Qi, both temperatures as differences from blood [Aarnoudse2007]. 1.08 is density
times heat capacity of saline over that of blood. T is the mean over the flow (``pulse``), blood is
joined from both sides of the infusion (``blood``).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.bins import bin_means
from arteriole.thermo.blood import REACH_S, Blood, find_blood
from arteriole.thermo.plateau import STEP_S, Plateau, left_blood_s, moving, steadiest
from arteriole.thermo.pulse import Mixing, Pulse, flow_weighted

HEAT_RATIO = 1.08  # saline over blood, [Aarnoudse2007]
SMOOTH_S = 2.0  # moving average of the trace, s, common practice, no source
T_WINDOW_S, TI_WINDOW_S = 15.0, 6.0  # longest windows read, s; decision 0054
FELT_S = 5.0  # after the onset no mixture is steady yet, s; decision 0054
SETTLE_S, MOVE_S = 2.0, 2.5  # after, and before, the sensor is seen to have moved, s; 0014
TI_SHARE = 0.75  # of the deepest drop: the sensor is at the outlet; decision 0054
AFTER_S = 15.0  # Ti may be read this long after the episode's end, s
AROUND_S = REACH_S + 5.0  # how far beyond the episode the trace is looked at, s; decision 0014
SHORTEST_TRACE_S = 45.0  # a shorter one holds no infusion
#: Plausibility, all from science of the method by memory, no source: decision 0054.
SMALLEST_T_C, SMALLEST_TI_C, SMALLEST_RATIO = 0.1, 2.0, 1.2
UNSTEADY_SHARE = 0.10  # slope over the window, or SD, against T; decision 0054
UNSTEADY_BLOOD_C = 0.05  # wander of blood itself; from memory, no source
HEAT_RATIO_SHARE = 0.01  # standard uncertainty of 1.08: haematocrit; decision 0054
#: How far mixing at the outlet falls short of full, share of Q; bench repeats lie within 8 %
#: [vantVeer2016], of which the temperatures explain a part; slow infusions mix worse: 0054.
MIXING_SHARE, SLOW_MIXING_SHARE = 0.015, 0.10
CLIPPED_SHARE = 0.5  # of the samples of the infusate plateau at one and the same value
PUMP_SHARE = 0.01  # of the pump's rate; from memory, no source
MOVED_SHARE = 0.2  # of Q between both sides' blood: more, and there is no flow; decision 0014
SLOWEST_ML_MIN = 8.0  # 6 mL/min gives no stable trace, 8-10 does, [Gallinoro2021]

FAULT_WORDS = {
    "no_plateau": "no steady plateau of T and Ti",
    "no_rate": "infusion rate not on the sheet",
    "clipped": "Ti lies beyond the recorder's range",
    "ti_warm": "Ti is not colder than T",
    "t_small": "T is too small",
    "ti_small": "Ti is too warm",
    "ratio_small": "Ti and T hardly differ, as if the sensor had not been moved",
    "unsteady": "T or Ti not steady",
    "blood_unsteady": "blood temperature not steady",
    "blood_moved": "the temperature baseline moved",
    "slow_infusion": "infusion too slow for steady mixing",
}
#: With any of these there is no flow: a number would mislead; decision 0014.
BY_TI = frozenset({"ti_warm", "ti_small", "ratio_small"})
FATAL = frozenset({"no_plateau", "no_rate", "clipped", "ti_warm", "t_small", "ratio_small"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContinuousReading:
    """Flow of one infusion with what it rests on.

    ``t_c``, ``ti_c``: differences from blood, negative = colder; ``t_c`` is the mean over the
    flow, ``t_plain_c`` over time; ``blood``, ``mixed``, ``infusate``: where they were read;
    ``sd_ml_min``: standard uncertainties of ``q_ml_min`` by source; ``faults``: codes;
    ``trace_t_s``, ``trace_c``: smoothed temperature as a difference from blood. ``q_ml_min`` None:
    no flow, and ``faults`` says why; ``between_ml_min`` is then what it lies between, where that
    is known: two readings of blood, or an infusate colder than the recorder's range.
    """

    start_s: float
    end_s: float
    infusion_ml_min: float | None
    q_ml_min: float | None
    t_c: float | None = None
    ti_c: float | None = None
    t_plain_c: float | None = None
    blood: Blood | None = None
    mixed: Plateau | None = None
    infusate: Plateau | None = None
    mixing: Mixing | None = None
    sd_ml_min: Mapping[str, float] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    between_ml_min: tuple[float, float] | None = None
    trace_t_s: Samples | None = None
    trace_c: Samples | None = None

    @property
    def q_plain_ml_min(self) -> float | None:
        """Flow by the plain mean of T over time."""
        if self.q_ml_min is None or self.t_c is None or not self.t_plain_c:
            return None
        return self.q_ml_min * self.t_c / self.t_plain_c

    @property
    def steady(self) -> bool:
        """Whether both plateaus were steady."""
        return self.q_ml_min is not None and "unsteady" not in self.faults


def read_continuous(
    *,
    temp_c: Samples,
    rate_hz: float,
    start_s: float,
    infusion_start_s: float,
    infusion_end_s: float,
    infusion_ml_min: float | None,
    pulse: Pulse | None = None,
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
    pulse : Pulse | None
        Beats, for the mean over the flow; None reads the plain mean over time.
    """  # fmt: skip

    def nothing(*faults: str) -> ContinuousReading:
        return ContinuousReading(
            start_s=infusion_start_s, end_s=infusion_end_s, infusion_ml_min=infusion_ml_min,
            q_ml_min=None, faults=faults,
        )  # fmt: skip

    from_s = max(infusion_start_s - AROUND_S, start_s)
    to_s = min(infusion_end_s + AROUND_S, start_s + (temp_c.size - 1) / rate_hz)
    bins = int((to_s - from_s) / STEP_S)
    if bins < int(SHORTEST_TRACE_S / STEP_S):
        return nothing("no_plateau")
    raw = bin_means(temp_c, rate_hz, start_s=start_s, from_s=from_s, step_s=STEP_S, bins=bins)
    t = from_s + (np.arange(bins, dtype=np.float64) + 0.5) * STEP_S
    good = np.isfinite(raw)
    if good.mean() < 0.5:
        return nothing("no_plateau")
    temp = np.interp(t, t[good], raw[good])
    onset = left_blood_s(temp, t, infusion_start_s)
    outlet = _outlet(temp, t, onset, infusion_end_s + AFTER_S)
    if outlet is None:
        return nothing("no_plateau")
    if outlet[0] - onset < FELT_S + MOVE_S:  # as cold from the start: no mixture beside the outlet
        return nothing("ratio_small")
    infusate = steadiest(temp, t, outlet[0] + SETTLE_S, outlet[1] - 0.7, TI_WINDOW_S)
    last = (t > outlet[0] - MOVE_S - T_WINDOW_S) & (t < outlet[0] - MOVE_S)
    about_c = abs(float(np.median(temp[last])) - outlet[2]) if last.any() else 0.0
    mixed = steadiest(
        temp, t, onset + FELT_S, outlet[0] - MOVE_S, T_WINDOW_S,
        late=True, steady_c=UNSTEADY_SHARE * about_c,
    )  # fmt: skip
    if infusate is None or mixed is None:
        return nothing("no_plateau")
    window = (mixed.start_s, mixed.end_s)
    blood = find_blood(t, temp, onset_s=onset, gone_s=outlet[1], at_s=window)
    if blood is None:
        return nothing("no_plateau")
    mixing = None if pulse is None else flow_weighted(
        temp_c, rate_hz, start_s=start_s, window_s=window, pulse=pulse
    )  # fmt: skip
    plain, ti_c = mixed.mean_c - blood.mean_c, infusate.mean_c - blood.mean_c
    t_c = plain + (mixing.shift_c if mixing else 0.0)
    k = slice(*(int((s - start_s) * rate_hz) for s in (infusate.start_s, infusate.end_s)))
    faults = _faults(t_c, ti_c, mixed, infusate, blood, infusion_ml_min)
    q, between, sd = None, None, {}
    if _clipped(temp_c[k]):  # Ti is colder than what was recorded: Q is more than this
        faults = ("clipped", *(f for f in faults if f not in BY_TI))
        if infusion_ml_min is not None and t_c < 0.0:
            between = (HEAT_RATIO * (ti_c / t_c) * infusion_ml_min, np.inf)
    if not FATAL & set(faults) and infusion_ml_min is not None:
        q = HEAT_RATIO * (ti_c / t_c) * infusion_ml_min
        sd = _doubt(q, t_c, ti_c, (mixed, infusate, blood, mixing), infusion_ml_min)
        between = _between(q, t_c, blood)
        if between is not None and between[1] - between[0] > MOVED_SHARE * q:
            q, sd = None, {}
    return ContinuousReading(
        start_s=infusion_start_s, end_s=infusion_end_s, infusion_ml_min=infusion_ml_min,
        q_ml_min=q, t_c=t_c, ti_c=ti_c, t_plain_c=plain, blood=blood, mixed=mixed,
        infusate=infusate, mixing=mixing, sd_ml_min=sd, faults=faults, between_ml_min=between,
        trace_t_s=t, trace_c=moving(temp, int(SMOOTH_S / STEP_S)) - blood.mean_c,
    )  # fmt: skip


def _outlet(
    temp: Samples, t: Samples, onset_s: float, to_s: float
) -> tuple[float, float, float] | None:
    """Return when the sensor lies at the outlet, around the coldest, s, and blood before, °C."""
    inside = (t > onset_s) & (t < to_s)
    before = temp[(t > onset_s - 3.0) & (t <= onset_s)]
    if not inside.any() or before.size == 0:
        return None
    level = float(np.median(before))
    drop = level - moving(temp, int(0.5 / STEP_S))
    lowest = int(np.argmax(np.where(inside, drop, -np.inf)))
    cold = drop > TI_SHARE * drop[lowest]
    left, right = lowest, lowest
    while left > 0 and cold[left - 1]:
        left -= 1
    while right < t.size - 1 and cold[right + 1]:
        right += 1
    return float(t[left]), float(t[right]), level


def _clipped(part: Samples) -> bool:
    part = part[np.isfinite(part)]
    return part.size > 0 and float(np.mean(part <= part.min())) > CLIPPED_SHARE


def _doubt(
    q: float, t_c: float, ti_c: float,
    read: tuple[Plateau, Plateau, Blood, Mixing | None], infusion_ml_min: float,
) -> dict[str, float]:  # fmt: skip
    """Return standard uncertainties of Q by source, mL/min: first order in each input [JCGM100]."""
    mixed, infusate, blood, mixing = read
    slow = infusion_ml_min < SLOWEST_ML_MIN
    sd = {
        "mixed temperature": q * mixed.mean_sd_c / -t_c,
        "infusate temperature": q * infusate.mean_sd_c / -ti_c,
        "blood temperature": q * blood.sd_c * abs(1.0 / t_c - 1.0 / ti_c),
        "heat ratio": q * HEAT_RATIO_SHARE,
        "pump": q * PUMP_SHARE,
        "mixing": q * (SLOW_MIXING_SHARE if slow else MIXING_SHARE),
    }
    return sd if mixing is None else sd | {"flow in the beat": q * mixing.sd_c / -t_c}


def _between(q: float, t_c: float, blood: Blood) -> tuple[float, float] | None:
    """Return Q by either side's blood where the two differ by more than wander, else None."""
    if not blood.moved:
        return None
    assert blood.before_c is not None and blood.after_c is not None  # noqa: PT018
    ends = []
    for level in (blood.before_c, blood.after_c):
        t_own = t_c + blood.mean_c - level
        ends.append(q * t_c / t_own if t_own < 0.0 else np.inf)
    return float(min(ends)), float(max(ends))


def _faults(
    t_c: float, ti_c: float, mixed: Plateau, infusate: Plateau, blood: Blood,
    infusion_ml_min: float | None,
) -> tuple[str, ...]:  # fmt: skip
    allowed = UNSTEADY_SHARE * max(-t_c, SMALLEST_T_C)
    shaky = (
        abs(mixed.climb_c) > allowed
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
        "blood_moved": blood.moved,
        "blood_unsteady": not blood.moved and blood.wander_c > UNSTEADY_BLOOD_C,
    }
    return tuple(code for code, found in tests.items() if found)
