"""The truth document of a session: everything the model knows and a reader has to find.

Keys are those of the open sessions of ``../shared/cases``, extended; see docs/simulator.md.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from arteriole.simulate import circulation as c
from arteriole.simulate import heart
from arteriole.simulate.acts import DriftCheck, Equalise, Inject, Window, of_kind
from arteriole.simulate.bolus_truth import injection_truth
from arteriole.simulate.course import Course, pd_at
from arteriole.simulate.events import events_of
from arteriole.simulate.fault_truth import spans_of
from arteriole.simulate.gauge import Gauges
from arteriole.simulate.line_truth import continuous_truth, pullback_truth
from arteriole.simulate.plateau import hyperaemia_seconds, plateau_ratio
from arteriole.simulate.quiet import quiet_means, true_pa, valve_of

SCHEMA = "arteriole.truth/1"


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
    continuous = continuous_truth(course, valve)
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
        "pullback": pullback_truth(course, states),
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
    low, mean, high = plateau_ratio(course)
    cfr = hyper["q_ml_min"] / rest["q_ml_min"]
    tmn, pa, pd = hyper["tmn_s"], hyper["pa"], hyper["pd"]
    out: dict[str, Any] = {
        "resting_pdpa": rest["pdpa"],
        "ffr": hyper["pdpa"],
        "ffr_plateau_mean": mean,
        "ffr_plateau_min5s": low,
        "ffr_plateau_max5s": high,
        "ffr_original_site": states["hyper_at_original_site"]["pdpa"],
        "diastolic_ratio_rest": rest["diastolic_ratio"],
        "late_diastolic_ratio_rest": rest["late_diastolic_ratio"],
        "full_cycle_ratio_rest": rest["full_cycle_ratio"],
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


def _seconds(course: Course) -> dict[str, Any]:
    step = round(course.rate_hz)
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
