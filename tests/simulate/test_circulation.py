"""The circuit against an independent 0-D solver, closed forms and its own balance."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import expm

from arteriole.simulate import circulation as c
from arteriole.simulate import heart
from arteriole.simulate.patient import Patient

svzerod = pytest.importorskip("svzerod", reason="the referee comes with the test group")

CASES = Path(__file__).parents[3] / "shared" / "data"
RATE_HZ = 1000.0
# Table in ../shared/data/README.md, check 5: flow mL/s, Pa, Pd mmHg over one settled cycle.
PRINTED = {
    "rest": (1.4982, 96.391, 94.893),
    "hyper": (5.7119, 96.391, 90.679),
    "rest_sten": (1.3274, 96.391, 84.644),
    "hyper_sten": (3.2896, 96.391, 54.344),
}


def coronary_row(resistance: float = 60.0) -> np.ndarray:
    k = np.ones(c.CONSTANTS)
    k[c.P_INERT], k[c.P_SQUEEZE], k[c.P_POWER], k[c.P_GAIN] = 0.0, 1.0, 0.0, 0.0
    k[c.P_RREF], k[c.P_RMIN], k[c.P_RCOLL], k[c.P_RINJ] = resistance, 0.1, 1e12, 0.0
    k[c.P_PREF] = 90.0
    return k


def coronary_state(k: np.ndarray) -> np.ndarray:
    s = np.zeros(c.STATES)
    s[c.S_PA] = s[c.S_SLOW] = s[c.S_P1] = 80.0
    s[c.S_VM] = k[c.P_VM0]
    s[c.S_LNR] = np.log(k[c.P_RREF])
    return s


def run(k, state, table, *, first=0, open_heart=False, beats=None, steps=4):
    out = np.empty((table.shape[0], c.OUTPUTS))
    one = np.ones(1)
    onset, root, strength = beats or (np.zeros(1), one, one)
    c.solver()(
        state, k, c.elastance_shape(), onset, root, strength, table, out, first,
        1.0 / RATE_HZ / steps, steps, open_heart,
    )  # fmt: skip
    return out


def own_case(name: str):
    config = json.loads((CASES / f"own_coronary_{name}.json").read_text())
    inlet, outlet = (b["bc_values"] for b in config["boundary_conditions"])
    vessel = config["vessels"][0]["zero_d_element_values"]
    total = outlet["Ra1"] + outlet["Ra2"] + outlet["Rv1"]
    k = coronary_row(total)
    k[c.P_VISC], k[c.P_TURB] = vessel["R_poiseuille"], vessel["stenosis_coefficient"]
    k[c.P_CA], k[c.P_CM], k[c.P_VM0] = outlet["Ca"], outlet["Cc"], 1e3
    k[c.P_PART1], k[c.P_PART2], k[c.P_PART3] = (
        outlet[name] / total for name in ("Ra1", "Ra2", "Rv1")
    )
    cycle = inlet["t"][-1]
    n = round(20 * cycle * RATE_HZ)
    t = np.arange(1, n + 1) / RATE_HZ
    table = np.zeros((n, c.INPUTS))
    table[:, c.IN_ATRIAL] = np.interp(t % cycle, inlet["t"], inlet["P"])
    table[:, c.IN_SVR] = np.interp(t % cycle, outlet["t"], outlet["Pim"])
    table[:, c.IN_VENOUS] = outlet["P_v"]
    table[:, [c.IN_TONE, c.IN_LESION]] = 1.0
    out = run(k, coronary_state(k), table)[-round(cycle * RATE_HZ) :]
    q = out[:, c.OUT_FLOW]
    pd = out[:, c.OUT_ROOT] - k[c.P_VISC] * q - k[c.P_TURB] * q * np.abs(q)
    frame = svzerod.simulate(config)
    frame = frame[frame.name == config["vessels"][0]["vessel_name"]]
    at = frame.time.to_numpy() - frame.time.iloc[0]
    referee = np.interp(t[: q.size], at, frame.flow_in.to_numpy())
    return q, pd, out[:, c.OUT_MEANFLOW].mean(), referee


@pytest.mark.parametrize("name", sorted(PRINTED))
def test_the_coronary_branch_agrees_with_the_independent_solver(name: str):
    q, pd, mean, referee = own_case(name)
    flow, _, printed_pd = PRINTED[name]

    assert mean == pytest.approx(referee.mean(), rel=0.005)
    assert mean == pytest.approx(flow, rel=0.005)
    assert pd.mean() == pytest.approx(printed_pd, rel=0.005)
    assert np.corrcoef(q, referee)[0, 1] >= 0.98


def quiet_heart(k):
    """A tree that is left alone: an empty ventricle, no coronary branch."""
    k[c.P_EMAX] = k[c.P_EMIN] = 1e-6
    k[c.P_V0], k[c.P_RMV], k[c.P_AREA], k[c.P_KVALVE] = 0.0, 1e9, 4.0, 10.0
    k[c.P_RWALL], k[c.P_RREF], k[c.P_RMIN] = 0.0, 1e9, 1e8
    return k


def test_the_tree_empties_like_its_closed_form():
    k = quiet_heart(coronary_row())
    k[c.P_C1], k[c.P_C2], k[c.P_C3] = 0.52, 0.46, 0.32
    k[c.P_L], k[c.P_R], k[c.P_RP] = 0.0026, 0.038, 0.95
    s = coronary_state(k)
    s[[c.S_P1, c.S_P2, c.S_P3]] = 100.0
    table = np.zeros((2000, c.INPUTS))
    table[:, c.IN_SVR] = table[:, c.IN_TONE] = table[:, c.IN_LESION] = 1.0
    table[:, c.IN_VENOUS] = 5.0
    out = run(k, s, table, open_heart=True)[:, c.OUT_ROOT]
    # The same linear circuit, P1 Q12 P2 Q23 P3 above venous pressure, by matrix exponential.
    a = np.array([
        [0, -1 / 0.52, 0, 0, 0],
        [1 / 0.0026, -0.038 / 0.0026, -1 / 0.0026, 0, 0],
        [0, 1 / 0.46, 0, -1 / 0.46, 0],
        [0, 0, 1 / 0.0026, -0.038 / 0.0026, -1 / 0.0026],
        [0, 0, 0, 1 / 0.32, -1 / (0.32 * 0.95)],
    ])  # fmt: skip
    exact = [5.0 + (expm(a * t) @ [95, 0, 95, 0, 95])[0] for t in (0.25, 0.5, 1.0, 2.0)]

    assert out[[249, 499, 999, 1999]] == pytest.approx(exact, rel=0.003)
    # One windkessel in the limit: time constant R times the whole compliance.
    tau = 1.0 / np.log((out[999] - 5.0) / (out[1999] - 5.0))
    assert tau == pytest.approx(0.95 * 1.30, rel=0.05)


def test_arterial_load_agrees_with_the_independent_solver():
    p = Patient()
    settled = heart.circuit(p)
    k = settled.constants.copy()
    k[c.P_RWALL], k[c.P_RREF], k[c.P_RMIN], k[c.P_RCOLL] = 0.0, 1e8, 1e7, 1e12
    out, _ = heart.trial(p, k, settled.state, settled.shape, 30.0, dilation=0.0)
    period = 60.0 / p.heart_rate_bpm
    n = round(period * heart.TRIAL_RATE_HZ)
    cycle = out[-n - 1 :]
    t = np.linspace(0.0, period, n + 1)
    inflow = cycle[:, c.OUT_VALVE].copy()
    inflow[-1] = inflow[0]

    def vessel(number, r, compliance, inertance):
        return {
            "vessel_id": number, "vessel_name": f"v{number}", "vessel_length": 1.0,
            "zero_d_element_type": "BloodVessel",
            "zero_d_element_values": {"R_poiseuille": r, "C": compliance, "L": inertance,
                                      "stenosis_coefficient": 0.0},
        }  # fmt: skip

    vessels = [
        vessel(0, 0.0, k[c.P_C1], k[c.P_L]),
        vessel(1, k[c.P_R], k[c.P_C2], k[c.P_L]),
        vessel(2, k[c.P_R], k[c.P_C3], 0.0),
    ]
    vessels[0]["boundary_conditions"] = {"inlet": "IN"}
    vessels[2]["boundary_conditions"] = {"outlet": "OUT"}
    frame = svzerod.simulate({
        "simulation_parameters": {"number_of_cardiac_cycles": 30, "output_all_cycles": False,
                                  "number_of_time_pts_per_cardiac_cycle": 801},
        "boundary_conditions": [
            {"bc_name": "IN", "bc_type": "FLOW",
             "bc_values": {"t": t.tolist(), "Q": inflow.tolist()}},
            {"bc_name": "OUT", "bc_type": "RESISTANCE",
             "bc_values": {"R": float(k[c.P_RP]), "Pd": p.venous_mmhg}},
        ],
        "vessels": vessels,
        "junctions": [
            {"junction_name": f"J{i}", "junction_type": "NORMAL_JUNCTION", "inlet_vessels": [i],
             "outlet_vessels": [i + 1]} for i in (0, 1)
        ],
    })  # fmt: skip
    first = frame[frame.name == "v0"]
    referee = np.interp(t, first.time - first.time.iloc[0], first.pressure_in)

    assert cycle[:, c.OUT_ROOT].mean() == pytest.approx(referee.mean(), rel=0.005)
    assert np.corrcoef(cycle[:, c.OUT_ROOT], referee)[0, 1] >= 0.98


def test_what_flows_in_flows_out_or_stays():
    p = Patient()
    settled = heart.circuit(p)
    k, before = settled.constants, settled.state
    out, after = heart.trial(p, k, before, settled.shape, 20.0, dilation=1.0)
    gained = (after[c.S_VM] - before[c.S_VM]) + k[c.P_CA] * (after[c.S_PA] - before[c.S_PA])
    through = out[:, c.OUT_MICRO].sum() / heart.TRIAL_RATE_HZ
    left = out[:, c.OUT_DRAIN].sum() / heart.TRIAL_RATE_HZ

    assert through - left - gained == pytest.approx(0.0, abs=0.001 * through)


def test_solving_in_blocks_gives_the_same_samples():
    p = Patient()
    settled = heart.circuit(p)
    rng = np.random.default_rng(3)
    n = 4000
    table = np.zeros((n, c.INPUTS))
    table[:, c.IN_SVR] = 1.0 + 0.05 * rng.standard_normal(n)
    table[:, c.IN_ATRIAL], table[:, c.IN_VENOUS] = p.atrial_mmhg, p.venous_mmhg
    table[:, [c.IN_TONE, c.IN_LESION]] = 1.0
    table[2000:, c.IN_DILATION] = 0.7
    onset = np.cumsum(rng.uniform(0.7, 1.0, 12)) - 1.0
    beats = (onset, np.full(12, 0.9), np.ones(12))

    def solve(cuts):
        state = settled.state.copy()
        state[c.S_BEAT] = 0.0
        parts = [
            run(settled.constants, state, table[a:b], first=a, open_heart=True, beats=beats)
            for a, b in pairwise(cuts)
        ]
        return np.concatenate(parts)

    assert np.array_equal(solve([0, n]), solve([0, 1, 17, 1999, 3210, n]))
