"""The truth document of a session: everything the model knows and a reader has to find.

Keys are those of the open sessions of ``../shared/cases``, extended; see docs/simulator.md.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from arteriole.simulate import circulation as c
from arteriole.simulate import heart, transport
from arteriole.simulate.acts import (
    Adenosine, Advance, DriftCheck, Equalise, Flush, Infuse, Inject, Migrate, Provoke, Pullback,
    Wedge, Window, WireIntoGuide, Zero, of_kind,
)  # fmt: skip
from arteriole.simulate.bolus_truth import injection_truth
from arteriole.simulate.course import Course, pd_at
from arteriole.simulate.fault_truth import spans_of
from arteriole.simulate.gauge import Gauges
from arteriole.simulate.lumen import lesions_of
from arteriole.simulate.schedule import HEAT_RATIO
from arteriole.simulate.quiet import WOOD, Valve, quiet_means, true_pa, valve_of

SCHEMA = "arteriole.truth/1"
MOVING_S = 5.0  # moving ratio over the plateau
AFTER_WEDGE_S = 6.0  # a blocked ostium has been made good; decision 0024
STEADY = 0.90  # of full dilation; below it hyperaemia is not there; decision 0024
PROFILE_POINTS = 21
DISEASE_PER_MM = 0.0015  # [Collet2019], as quoted
FOCAL_MM = 20.0


def truth_of(
    course: Course, gauges: Gauges, *, pattern: str, seed: int, artefacts: Sequence[str]
) -> dict[str, Any]:
    """Return the truth of a session as plain values, times in s, mmHg, mL/min, °C."""
    valve = valve_of(course)
    windows = {w.state: w for w in of_kind(course.acts, Window)}
    first = pd_at(course.flow, course.circuit.lumen, course.patient,
                  np.ones(course.t_s.size), course.lesion)  # fmt: skip
    states: dict[str, Any] = {}
    for state, w in windows.items():
        states[state] = quiet_means(course, valve, w.start_s, w.end_s, course.pd_mmhg)
    if "hyper" in windows:
        w = windows["hyper"]
        states["hyper_at_original_site"] = quiet_means(course, valve, w.start_s, w.end_s, first)
    injections = [injection_truth(course, valve, i) for i in of_kind(course.acts, Inject)]
    continuous = _continuous(course, valve)
    checks = of_kind(course.acts, DriftCheck)
    p = course.patient
    return {
        "schema": SCHEMA,
        "simulated": True,
        "pattern": pattern,
        "seed": seed,
        "vessel": p.vessel,
        "fs": course.rate_hz,
        "artefacts": list(artefacts),
        "artefact_details": spans_of(course, artefacts),
        "states": states,
        "injections": injections,
        "continuous": continuous,
        "indices": _indices(course, states, injections),
        "pullback": _pullback(course, states),
        "hyperaemia": hyperaemia_seconds(course),
        "per_second": _seconds(course),
        "drift_mmHg_at_check": _at_check(course, gauges, checks[-1]) if checks else None,
        "drift_total_mmHg": p.drift_mmhg,
        "equalisation_error_mmHg": of_kind(course.acts, Equalise)[0].error_mmhg,
        "wire_gain": p.pd_gain,
        "sensor_lag_true_s": p.sensor_lag_s,
        "patient": {name: getattr(p, name) for name in p.__slots__},
        "events": events_of(course),
    }


def _at_check(course: Course, gauges: Gauges, check: DriftCheck) -> float:
    on = (course.t_s >= check.start_s) & (course.t_s < check.end_s)
    return float(gauges.pd_error[on].mean())


def _indices(course: Course, states: Any, injections: Sequence[Any]) -> dict[str, Any]:
    rest, hyper = states["rest"], states["hyper"]
    good = {
        s: [i for i in injections if i["state"] == s and i["quality"] == "good"]
        or [i for i in injections if i["state"] == s]
        for s in ("rest", "hyper")
    }
    wedge, occluded_pa = heart.occluded(course.patient, course.circuit)
    pv = course.patient.venous_mmhg
    low, mean, high = _plateau(course)
    cfr = hyper["q_ml_min"] / rest["q_ml_min"]
    tmn, pa, pd = hyper["tmn_s"], hyper["pa"], hyper["pd"]
    out: dict[str, Any] = {
        "resting_pdpa": rest["pdpa"],
        "ffr": hyper["pdpa"],
        "ffr_plateau_mean": mean,
        "ffr_plateau_min5s": low,
        "ffr_plateau_max5s": high,
        "ffr_original_site": states["hyper_at_original_site"]["pdpa"],
        "dpr_rest": rest["dpr"],
        "wfp_ratio_rest": rest["wfp_ratio"],
        "rfr_rest": rest["rfr"],
        "cfr": cfr,
        "imr": pd * tmn,
        "imr_wedge_corrected": pa * tmn * (pd - wedge) / (pa - wedge),
        "imr_yong": pa * tmn * (1.35 * pd / pa - 0.32),
        "imr_micro_true": pd * hyper["vessel_volume_ml"] * 60.0 / hyper["q_micro_ml_min"],
        "rrr": cfr * rest["pd"] / pd,
        "mrr": cfr * rest["pa"] / pd,
        "baseline_resistance_index": rest["pd"] * rest["tmn_s"],
        "wedge_pressure": wedge,
        "collateral_flow_index": (wedge - pv) / (occluded_pa - pv),
        "hyperaemic_dilation_fraction": hyper["dilation"],
        "ffr_at_maximal_dilation": _widest(course),
    }
    if good["rest"] and good["hyper"]:
        out |= _bolus_indices(good)
    return out


def _bolus_indices(good: dict[str, list[Any]]) -> dict[str, float]:
    def mean(state: str, key: str) -> float:
        return float(np.mean([i[key] for i in good[state]]))

    rest, hyper = mean("rest", "tmn_true_s"), mean("hyper", "tmn_true_s")
    classic_rest, classic = mean("rest", "tmn_classic_s"), mean("hyper", "tmn_classic_s")
    pd = mean("hyper", "pd_pre")
    return {
        "cfr_at_injections": mean("hyper", "q_pre_ml_min") / mean("rest", "q_pre_ml_min"),
        "cfr_bolus_convention": rest / hyper,
        "tmn_rest": rest,
        "tmn_hyper": hyper,
        "tmn_rest_classic": classic_rest,
        "tmn_hyper_classic": classic,
        "tmn_rest_classic_thermal": mean("rest", "tmn_classic_thermal_s"),
        "tmn_hyper_classic_thermal": mean("hyper", "tmn_classic_thermal_s"),
        "cfr_classic": classic_rest / classic,
        "imr_classic": pd * classic,
        "imr_at_injections": pd * hyper,
    }


def _widest(course: Course) -> float:
    """Return Pd/Pa with vessels wide open, at the first site."""
    out, _ = heart.trial(course.patient, course.circuit.constants, course.circuit.state,
                         course.circuit.shape, 16.0, dilation=1.0)  # fmt: skip
    beat = heart.whole_beats(course.patient, out)
    ones = np.ones(beat.shape[0])
    pd = pd_at(beat, course.circuit.lumen, course.patient, ones, ones)
    return float(pd.mean() / beat[:, c.OUT_ROOT].mean())


def plateau_span(course: Course) -> tuple[float, float]:
    """Return when dilation first reached its steady part and when the sensor was moved, s."""
    drug = of_kind(course.acts, Adenosine)[0]
    moved = [a.start_s for a in (*of_kind(course.acts, Pullback), *of_kind(course.acts, DriftCheck))]
    window = [w for w in of_kind(course.acts, Window) if w.state == "hyper"][0]
    stop = min([m for m in moved if m > drug.start_s] or [window.end_s])
    on = (course.t_s >= drug.start_s) & (course.t_s < stop)
    level = 0.97 * float(np.median(course.dilation[(course.t_s >= window.start_s) & on]))
    for w in of_kind(course.acts, Wedge):
        on &= course.t_s >= w.end_s + AFTER_WEDGE_S
    for m in of_kind(course.acts, Migrate):
        stop = min(stop, m.start_s) if m.start_s > drug.start_s else stop
    reached = np.flatnonzero(on & (course.dilation >= level))
    return float(course.t_s[reached[0]]) if reached.size else window.start_s, stop


def _plateau(course: Course) -> tuple[float, float, float]:
    a, b = (int(s * course.rate_hz) for s in plateau_span(course))
    n = int(MOVING_S * course.rate_hz)
    pa, pd = np.cumsum(true_pa(course)[a:b]), np.cumsum(course.pd_mmhg[a:b])
    if pa.size <= n:
        ratio = np.array([pd[-1] / pa[-1]])
    else:
        ratio = (pd[n:] - pd[:-n]) / (pa[n:] - pa[:-n])
    return float(ratio.min()), float(pd[-1] / pa[-1]), float(ratio.max())


def _continuous(course: Course, valve: Valve) -> dict[str, Any] | None:
    rows: dict[str, Any] = {}
    for q in of_kind(course.acts, Infuse):
        steady = [q.back_s - 18.0, q.back_s - 3.0]
        means = quiet_means(course, valve, steady[0], steady[1], course.pd_mmhg)
        on = (course.t_s >= steady[0]) & (course.t_s < steady[1])
        back = [q.back_s + 2.0, q.end_s - 0.5]
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


def _pullback(course: Course, states: Any) -> dict[str, Any] | None:
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


def hyperaemia_seconds(course: Course) -> dict[str, Any]:
    """Return dilation and the state of hyperaemia for every second, and the steady span.

    ``building`` until ``STEADY`` of full dilation, ``steady`` above it, ``fading`` when it falls
    below after the drug stopped, ``not reached`` where it never gets there.
    """
    step = int(round(course.rate_hz))
    level = course.dilation[::step]
    seconds = np.arange(level.size)
    names: list[str] = ["none"] * level.size
    for drug in of_kind(course.acts, Adenosine):
        on = seconds >= int(drug.start_s)
        reached = np.flatnonzero(on & (level >= STEADY))
        for k in np.flatnonzero(on):
            if not reached.size:
                names[k] = "not reached"
            elif level[k] >= STEADY:
                names[k] = "steady"
            else:
                late = drug.route == "intravenous" and k > drug.end_s
                names[k] = "fading" if late or k > reached[-1] else "building"
    span = plateau_span(course)
    return {
        "second": seconds.tolist(),
        "dilation": [round(float(v), 4) for v in level],
        "state": names,
        "plateau_span": list(span),
        "reached": "steady" in names,
    }


def _seconds(course: Course) -> dict[str, Any]:
    step = int(round(course.rate_hz))
    n = course.t_s.size // step

    def mean(row: Any) -> list[float]:
        return [round(float(v), 4) for v in row[: n * step].reshape(n, step).mean(axis=1)]

    return {
        "q_ml_min": mean(course.flow[:, c.OUT_MEANFLOW] * 60.0),
        "pa": mean(true_pa(course)),
        "pd": mean(course.pd_mmhg),
        "resistance_mmhg_s_ml": mean(course.flow[:, c.OUT_RESISTANCE]),
        "sensor_x": mean(course.place),
    }


def events_of(course: Course) -> list[dict[str, Any]]:
    """Return every act as an event with ``t0``, ``t1``, ``kind`` and what belongs to it."""
    rows: list[dict[str, Any]] = []
    for a in course.acts:
        row: dict[str, Any] = {"t0": a.start_s, "t1": a.end_s}
        match a:
            case Zero():
                row |= {"kind": "zero_open_to_air", "zeroed_s": a.zeroed_s}
            case WireIntoGuide():
                row |= {"kind": "wire_into_guide"}
            case Flush():
                row |= {"kind": "flush", "agent": a.agent, "vol": a.volume_ml,
                        "pa_artefact": a.pa, "pa_lost": list(a.lost_s)}  # fmt: skip
            case Equalise():
                row |= {"kind": "equalise"}
            case Advance():
                row |= {"kind": "advance"}
            case Window():
                row |= {"kind": f"{a.state}_window"}
            case Inject():
                row |= {"kind": "injection", "state": a.state, "index": a.index,
                        "vol": a.volume_ml, "quality": a.quality, "pa_artefact": a.pa,
                        "pa_lost": list(a.lost_s)}  # fmt: skip
            case Adenosine():
                row |= {"kind": "adenosine_iv" if a.route == "intravenous" else "adenosine_ic"}
            case Infuse():
                rows.append({"t0": a.start_s, "t1": a.back_s, "kind": "continuous",
                             "state": a.state, "qi": a.rate_ml_min})  # fmt: skip
                row |= {"t0": a.back_s, "kind": "sensor_to_microcath", "state": a.state,
                        "qi": a.rate_ml_min}  # fmt: skip
            case Pullback():
                row |= {"kind": "pullback"}
            case DriftCheck():
                row |= {"kind": "drift_check"}
            case Wedge():
                row |= {"kind": "guide_wedge"}
            case Migrate():
                row |= {"kind": "wire_migration", "x_to": a.to}
            case Provoke():
                row |= {"kind": "provocation", "agent": a.agent}
            case _:
                continue
        rows.append(row)
    span = plateau_span(course)
    rows.append({"t0": span[0], "t1": span[1], "kind": "hyper_plateau"})
    return sorted(rows, key=lambda r: float(r["t0"]))
