"""True means over a quiet window: whole beats, diastole by the model's own valve."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from arteriole.simulate import circulation as c
from arteriole.simulate.course import Course

Row = npt.NDArray[np.float64]
Index = npt.NDArray[np.int64]

EJECTING_ML_S = 30.0  # a beat that ejects
SMOOTH_S = 0.020  # before the minimum of the ratio
WAVE_FREE_START, WAVE_FREE_STOP_S = 0.25, 0.005  # [Sen2012]
WOOD = 1000.0  # mmHg min/mL -> mmHg min/L


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Valve:
    """Sample numbers of each opening and of the closing that follows."""

    opens: Index
    closes: Index


def valve_of(course: Course) -> Valve:
    """Return when the aortic valve opened and closed; runs that eject nothing are left out."""
    flowing = course.flow[:, c.OUT_VALVE] != 0.0
    change = np.diff(flowing.astype(np.int8))
    opens = np.flatnonzero(change == 1) + 1
    closes = np.flatnonzero(change == -1) + 1
    if opens.size and closes.size and closes[0] < opens[0]:
        closes = closes[1:]
    n = min(opens.size, closes.size)
    opens, closes = opens[:n], closes[:n]
    valve = course.flow[:, c.OUT_VALVE]
    good = np.array(
        [valve[a:b].max() > EJECTING_ML_S for a, b in zip(opens, closes, strict=True)], dtype=bool
    )
    return Valve(opens=opens[good], closes=closes[good])


def true_pa(course: Course) -> Row:
    """Return the error-free pressure at the guide's tip, as if the guide blocked nothing."""
    return np.asarray(
        course.flow[:, c.OUT_ROOT] + course.patient.injection_mmhg_s_ml * course.inject_ml_s
    )


def beats_between(course: Course, valve: Valve, start_s: float, end_s: float) -> Index:
    """Return the openings inside, shape (beats + 1,)."""
    t = valve.opens / course.rate_hz
    return np.asarray(valve.opens[(t >= start_s) & (t <= end_s)])


def quiet_means(
    course: Course, valve: Valve, start_s: float, end_s: float, pd: Row
) -> dict[str, Any]:
    """Return the means of a state over the whole beats between two times."""
    pa = true_pa(course)
    edges = beats_between(course, valve, start_s, end_s)
    a, b = int(edges[0]), int(edges[-1])
    flow = course.flow
    mean_pa, mean_pd = float(pa[a:b].mean()), float(pd[a:b].mean())
    q = float(flow[a:b, c.OUT_MEANFLOW].mean()) * 60.0
    micro = float(flow[a:b, c.OUT_MICRO].mean()) * 60.0
    dia = np.zeros(pa.size, dtype=bool)
    late = np.zeros(pa.size, dtype=bool)
    lows, tops, bottoms = [], [], []
    width = max(round(SMOOTH_S * course.rate_hz), 1)
    ratio = np.convolve(pd[a:b] / pa[a:b], np.ones(width) / width, mode="same")
    for k, (o, nxt) in enumerate(pairwise(int(e) for e in edges)):
        close = int(valve.closes[np.searchsorted(valve.opens, o)])
        if close >= nxt:
            continue
        dia[close:nxt] = True
        start = close + WAVE_FREE_START * (nxt - close)
        late[round(start) : round(nxt - WAVE_FREE_STOP_S * course.rate_hz)] = True
        if 0 < k < edges.size - 2:
            lows.append(float(ratio[o - a : nxt - a].min()))
        tops.append(float(pa[o:nxt].max()))
        bottoms.append(float(pa[o:nxt].min()))
    systole = ~dia[a:b]
    sys_flow = float(flow[a:b, c.OUT_MEANFLOW][systole].mean())
    dia_flow = float(flow[a:b, c.OUT_MEANFLOW][~systole].mean())
    fraction = float(np.clip(course.place[a:b].mean(), 0.0, 1.0))
    volume = course.patient.vessel_volume_ml * fraction
    return {
        "window": [start_s, end_s],
        "n_beats": int(edges.size - 1),
        "pa": mean_pa,
        "pd": mean_pd,
        "pdpa": mean_pd / mean_pa,
        "pa_sys": float(np.mean(tops)),
        "pa_dia": float(np.mean(bottoms)),
        "diastolic_ratio": float(pd[dia].mean() / pa[dia].mean()),
        "late_diastolic_ratio": float(pd[late].mean() / pa[late].mean()),
        "full_cycle_ratio": float(np.mean(lows)),
        "hr": 60.0 * (edges.size - 1) * course.rate_hz / (b - a),
        "q_ml_min": q,
        "q_micro_ml_min": micro,
        "q_dia_sys_ratio": dia_flow / sys_flow,
        "vessel_volume_ml": volume,
        "tmn_s": volume * 60.0 / q,
        "r_micro_WU": mean_pd / q * WOOD,
        "r_micro_net_WU": (mean_pd - course.patient.venous_mmhg) / q * WOOD,
        "dilation": float(course.dilation[a:b].mean()),
    }
