"""True profile of the ratio along the artery, and true flow under saline infusion."""

from typing import Any

import numpy as np

from arteriole.simulate import circulation as c
from arteriole.simulate import transport
from arteriole.simulate.acts import Infuse, Pullback, of_kind
from arteriole.simulate.course import Course
from arteriole.simulate.lumen import lesions_of
from arteriole.simulate.quiet import WOOD, Valve, quiet_means, true_pa
from arteriole.simulate.schedule import HEAT_RATIO

PROFILE_POINTS = 21
DISEASE_PER_MM = 0.0015  # [Collet2019], as quoted
FOCAL_MM = 20.0  # [Collet2019]
LITTLE_DROP = 0.05  # of the ratio: no disease to speak of; decision 0024
STEADY_S = (18.0, 3.0)  # before the sensor is drawn back
BACK_S = (2.0, 0.5)  # after the sensor is back, before the pump stops


def continuous_truth(course: Course, valve: Valve) -> dict[str, Any] | None:
    """Return true flow and temperatures of each infusion, None without one."""
    rows: dict[str, Any] = {}
    for q in of_kind(course.acts, Infuse):
        steady = [q.back_s - STEADY_S[0], q.back_s - STEADY_S[1]]
        means = quiet_means(course, valve, steady[0], steady[1], course.pd_mmhg)
        on = (course.t_s >= steady[0]) & (course.t_s < steady[1])
        back = [q.back_s + BACK_S[0], q.end_s - BACK_S[1]]
        at_tip = (course.t_s >= back[0]) & (course.t_s < back[1])
        infusate = float(course.infuse_c[at_tip].mean())
        mixed = float(course.cold[on, transport.OUT_RAW].mean())
        rows[q.state] = {
            "state": q.state,
            "qi_ml_min": q.rate_ml_min,
            "t_start": q.start_s,
            "t_end": q.back_s,
            "ti_window": back,
            "steady_window": steady,
            "ti_degC": -infusate,
            "t_mix_degC": -mixed,
            "q_true_ml_min": means["q_ml_min"],
            "q_read_ml_min": HEAT_RATIO * q.rate_ml_min * infusate / mixed,
            "pa": means["pa"],
            "pd": means["pd"],
            "pdpa": means["pdpa"],
            "r_micro_WU": means["pd"] / means["q_ml_min"] * WOOD,
        }
    if not rows:
        return None
    if "rest" in rows and "hyper" in rows:
        rest, hyper = rows["rest"], rows["hyper"]
        rows["cfr"] = hyper["q_true_ml_min"] / rest["q_true_ml_min"]
        rows["ffr"] = hyper["pdpa"]
        rows["mrr"] = rows["cfr"] * rest["pa"] / hyper["pd"]
    return rows


def pullback_truth(course: Course, states: Any) -> dict[str, Any] | None:
    """Return the hyperaemic profile of Pd/Pa along the artery, None without a pullback.

    Source
    ------
    [Collet2019] for the index from the largest drop over 20 mm and the diseased length.
    """
    acts = of_kind(course.acts, Pullback)
    if not acts:
        return None
    window = states["hyper"]["window"]
    a, b = int(window[0] * course.rate_hz), int(window[1] * course.rate_hz)
    lumen, q = course.circuit.lumen, course.flow[a:b, c.OUT_FLOW]
    linear, square = float(q.mean()), float((q * np.abs(q)).mean())
    pa = float(true_pa(course)[a:b].mean())
    ratio = 1.0 - (
        lumen.viscous_mmhg_s_ml * linear + lumen.turbulent_mmhg_s2_ml2 * square
    ) / pa  # fmt: skip
    x = lumen.position_mm
    total = float(ratio[0] - ratio[-1])
    fine = np.interp(np.arange(0.0, x[-1], 1.0), x, ratio)
    drop20 = float((fine[: -int(FOCAL_MM)] - fine[int(FOCAL_MM) :]).max())
    diseased = float((-np.diff(fine) >= DISEASE_PER_MM).mean())
    share = np.linspace(0.0, 1.0, PROFILE_POINTS)
    return {
        "t0": acts[0].start_s,
        "t1": acts[0].end_s,
        "length_mm": float(x[-1]),
        "pattern": _kind(course, total),
        "profile_x": share.tolist(),
        "profile_ratio": np.interp(share * x[-1], x, ratio).tolist(),
        "lesions": [
            {"centre_mm": m, "length_mm": long, "narrowing": n}
            for m, long, n in lesions_of(course.patient)
        ],
        "ppg_20mm_max": drop20,
        "diseased_fraction": diseased,
        "ppg_index": 0.5 * (drop20 / total + 1.0 - diseased) if total > 0.0 else None,
        "total_drop": total,
        "path": [list(step) for step in acts[0].path],
    }


def _kind(course: Course, total: float) -> str:
    lesions = len(lesions_of(course.patient))
    if total < LITTLE_DROP:
        return "minimal"
    return ("diffuse", "focal", "serial", "serial")[lesions]
