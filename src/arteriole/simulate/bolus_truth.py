"""What is true of one bolus: volume over flow, and what a perfect reading of its curve gives.

Each injection is carried through the artery once more by itself, with the flow it really met and
without a wall, so that neither the tail nor a neighbour is in its centroid.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from arteriole.simulate import circulation as c
from arteriole.simulate import heart, schedule, transport
from arteriole.simulate.acts import Inject
from arteriole.simulate.course import Course, transport_constants
from arteriole.simulate.quiet import Valve, beats_between, true_pa

Row = npt.NDArray[np.float64]

AFTER_S = 25.0  # the curve is over
BEFORE_S = 5.0  # whole beats before the injection


def injection_truth(course: Course, valve: Valve, act: Inject) -> dict[str, Any]:
    """Return the truth of one injection, times in s from the recording's start."""
    rate = course.rate_hz
    a = int(act.start_s * rate)
    b = min(int((act.end_s + AFTER_S) * rate), course.t_s.size)
    alone, t = _alone(course, act, a, b)
    depth = float(np.clip(course.place[a], 0.0, 1.0))
    volume = course.patient.vessel_volume_ml * depth
    edges = beats_between(course, valve, act.start_s - BEFORE_S, act.start_s)
    if edges.size < 2:
        edges = np.array([max(a - int(BEFORE_S * rate), 0), a])
    p, q = int(edges[0]), int(edges[-1])
    before = float(course.flow[p:q, c.OUT_MEANFLOW].mean())
    inject = schedule.injected((act,), course.t_s[a:b])
    t_flow = _centroid(t - 0.5 / rate, inject)  # given over the whole step that ends at t
    t_tip = _centroid(t, alone[:, transport.OUT_TIP])
    t_inlet = _centroid(t, alone[:, transport.OUT_ENTER])
    t_outlet = _centroid(t, alone[:, transport.OUT_RAW_NOWALL])
    t_sensor = _centroid(t, alone[:, transport.OUT_NOWALL])
    end = min(max(int(t_outlet * rate), a + 2), b)
    during = float(course.flow[a:end, c.OUT_MEANFLOW].mean())
    return {
        "state": act.state,
        "index": act.index,
        "t_start": act.start_s,
        "t_end": act.end_s,
        "volume_ml": act.volume_ml,
        "quality": act.quality,
        "sensor_x": depth,
        "vessel_volume_ml": volume,
        "q_pre_ml_min": before * 60.0,
        "tmn_true_s": volume / before,
        "q_during_ml_min": during * 60.0,
        "tmn_during_s": volume / during,
        "t_tip_centroid": t_tip,
        "t_inlet_centroid": t_inlet,
        "t_outlet_centroid": t_outlet,
        "t_flow_centroid": t_flow,
        "tmn_classic_s": t_sensor - t_flow,
        "tmn_classic_thermal_s": t_sensor - t_tip,
        "tmn_classic_onset_s": t_sensor - act.start_s,
        "tmn_centroid_time_weighted_s": t_outlet - t_inlet,
        "pd_pre": float(course.pd_mmhg[p:q].mean()),
        "pa_pre": float(true_pa(course)[p:q].mean()),
        "dilation_pre": float(course.dilation[p:q].mean()),
        "peak_drop_degC": float(course.cold[a:b, transport.OUT_SENSOR].max()),
        "pa_lost": list(act.lost_s),
        "pa_artefact": act.pa,
    }


def _alone(course: Course, act: Inject, a: int, b: int) -> tuple[Row, Row]:
    rate = course.rate_hz
    t = course.t_s[a:b]
    table = np.zeros((b - a, transport.INPUTS))
    table[:, transport.IN_FLOW] = course.flow[a:b, c.OUT_MEANFLOW]
    table[:, transport.IN_INJECT] = schedule.injected((act,), t)
    table[:, transport.IN_THETA] = course.patient.injectate_c
    table[:, transport.IN_PLACE] = max(float(course.place[a]), 0.05)
    out = np.empty((b - a, transport.OUTPUTS))
    steps = heart.substeps(rate)
    transport.solver()(
        np.zeros(transport.STATES), transport_constants(course.patient), table, out,
        1.0 / (rate * steps), steps,
    )  # fmt: skip
    return out, np.asarray(t + 1.0 / rate)


def _centroid(t: Row, weight: Row) -> float:
    total = float(weight.sum())
    return float((t * weight).sum() / total) if total > 0.0 else float(t[0])
