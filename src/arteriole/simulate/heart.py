"""From a patient to the circuit's constants: set so that the healthy artery has its flows."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from arteriole.simulate import circulation as c
from arteriole.simulate.lumen import Lumen, lumen_of
from arteriole.simulate.patient import Patient

Row = npt.NDArray[np.float64]

SUBSTEP_HZ = 2000.0  # at least; decision 0020
TRIAL_RATE_HZ = 500.0
TRIAL_S = 8.0
ROUNDS = 7
TREE_PARTS = (0.40, 0.35, 0.25)  # of the compliance: root, trunk, limbs; decision 0021
SEGMENT_INERTANCE = 0.0026  # mmHg s2/mL
SEGMENT_RESISTANCE = 0.038  # mmHg s/mL
TYPICAL_REST, TYPICAL_HYPER = 78.0, 270.0  # mL/min, flows the compliances are given for
ROOT_WALL = 0.03  # mmHg s/mL, wall friction


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circuit:
    """Constants, a settled state at rest, and the loss profile."""

    constants: Row
    state: Row
    lumen: Lumen
    shape: Row


def substeps(rate_hz: float) -> int:
    """Return solver steps per sample."""
    return max(1, int(np.ceil(SUBSTEP_HZ / rate_hz - 1e-9)))


def _constants(p: Patient, lumen: Lumen) -> Row:
    k = np.zeros(c.CONSTANTS)
    k[c.P_EMAX], k[c.P_EMIN], k[c.P_V0] = (
        p.elastance_max_mmhg_ml,
        p.elastance_min_mmhg_ml,
        p.unstressed_ml,
    )
    k[c.P_RMV], k[c.P_AREA], k[c.P_KVALVE] = (
        p.mitral_mmhg_s_ml,
        p.valve_area_cm2,
        p.valve_rate_per_mmhg_s,
    )
    for name, part in zip((c.P_C1, c.P_C2, c.P_C3), TREE_PARTS, strict=True):
        k[name] = part * p.compliance_ml_mmhg
    k[c.P_L], k[c.P_R], k[c.P_RWALL] = SEGMENT_INERTANCE, SEGMENT_RESISTANCE, ROOT_WALL
    k[c.P_RP] = 1.1
    k[c.P_VISC] = lumen.viscous_mmhg_s_ml[-1]
    k[c.P_TURB] = lumen.turbulent_mmhg_s2_ml2[-1]
    k[c.P_INERT], k[c.P_SQUEEZE] = p.inertance_mmhg_s2_ml, p.squeeze
    # fewer or smaller vessels hold less and give less: compliance goes with the flows
    size = (p.rest_flow_ml_min / TYPICAL_REST * p.hyper_flow_ml_min / TYPICAL_HYPER) ** 0.5
    k[c.P_CA] = size * p.arterial_compliance_ml_mmhg
    k[c.P_CM], k[c.P_VM0] = size * p.muscle_compliance_ml_mmhg, size * p.muscle_volume_ml
    k[c.P_POWER] = p.squeeze_power
    k[c.P_GAIN], k[c.P_TAU] = p.autoregulation, p.autoregulation_s
    k[c.P_RCOLL], k[c.P_RINJ] = p.collateral_mmhg_s_ml, p.injection_mmhg_s_ml
    k[c.P_PREF] = p.mean_aortic_mmhg
    k[c.P_PART1], k[c.P_PART2], k[c.P_PART3] = c.PARTS
    k[c.P_RREF] = (p.mean_aortic_mmhg - c.ZERO_FLOW_MMHG) * 60.0 / p.rest_flow_ml_min
    k[c.P_RMIN] = (p.mean_aortic_mmhg - c.ZERO_FLOW_MMHG) * 60.0 / p.hyper_flow_ml_min
    return k


def first_state(p: Patient, k: Row) -> Row:
    """Return a plausible state to settle from."""
    s = np.zeros(c.STATES)
    s[c.S_LV] = 120.0
    s[[c.S_P1, c.S_P2, c.S_P3, c.S_SLOW]] = p.mean_aortic_mmhg
    s[[c.S_Q12, c.S_Q23]] = 80.0
    s[c.S_PA] = p.mean_aortic_mmhg - 5.0
    s[c.S_VM] = k[c.P_VM0]
    s[c.S_LNR] = np.log(k[c.P_RREF])
    return s


def trial(
    p: Patient, k: Row, state: Row, shape: Row, seconds: float, *, dilation: float,
    lesion: float = 1.0,
) -> tuple[Row, Row]:  # fmt: skip
    """Return (output table, end state) of regular beats without breathing or acts."""
    n = int(seconds * TRIAL_RATE_HZ)
    rr = 60.0 / p.heart_rate_bpm
    onset = np.arange(-2.0, seconds + 2.0, rr)
    table = np.zeros((n, c.INPUTS))
    table[:, c.IN_SVR], table[:, c.IN_ATRIAL], table[:, c.IN_VENOUS] = (
        1.0, p.atrial_mmhg, p.venous_mmhg,
    )  # fmt: skip
    table[:, c.IN_DILATION], table[:, c.IN_TONE], table[:, c.IN_LESION] = dilation, 1.0, lesion
    out = np.empty((n, c.OUTPUTS))
    end = state.copy()
    end[c.S_BEAT] = 0.0
    steps = substeps(TRIAL_RATE_HZ)
    c.solver()(
        end, k, shape, onset, np.full(onset.size, min(rr, 1.4) ** 0.5), np.ones(onset.size),
        table, out, 0, 1.0 / (TRIAL_RATE_HZ * steps), steps, True,
    )  # fmt: skip
    return out, end


def whole_beats(p: Patient, out: Row) -> Row:
    """Return the last whole beats, at most half, of a trial's table."""
    rr = 60.0 / p.heart_rate_bpm
    n = round(int(out.shape[0] / TRIAL_RATE_HZ / 2.0 / rr) * rr * TRIAL_RATE_HZ)
    return out[-n:]


def circuit(p: Patient) -> Circuit:
    """Return the patient's circuit: constants found on the healthy artery, then the disease."""
    healthy = lumen_of(
        replace(p, diffuse=0.0, lesion1_narrowing=0.0, lesion2_narrowing=0.0, lesion3_narrowing=0.0)
    )
    shape = c.elastance_shape()
    k = _constants(p, healthy)
    open_collateral = k[c.P_RCOLL]
    k[c.P_RCOLL] = 1e6  # flows of the healthy artery are meant without collaterals
    rest = hyper = first_state(p, k)
    for _ in range(ROUNDS):
        out, rest = trial(p, k, rest, shape, TRIAL_S, dilation=0.0)
        beat = whole_beats(p, out)
        k[c.P_RP] *= (p.mean_aortic_mmhg - p.venous_mmhg) / (
            beat[:, c.OUT_ROOT].mean() - p.venous_mmhg
        )
        k[c.P_RREF] *= beat[:, c.OUT_MEANFLOW].mean() * 60.0 / p.rest_flow_ml_min
        out, hyper = trial(p, k, hyper, shape, TRIAL_S, dilation=1.0)
        beat = whole_beats(p, out)
        k[c.P_RMIN] *= beat[:, c.OUT_MEANFLOW].mean() * 60.0 / p.hyper_flow_ml_min
    lumen = lumen_of(p)
    k[c.P_RCOLL] = open_collateral
    k[c.P_VISC] = lumen.viscous_mmhg_s_ml[-1]
    k[c.P_TURB] = lumen.turbulent_mmhg_s2_ml2[-1]
    _, state = trial(p, k, rest, shape, 40.0, dilation=0.0)
    return Circuit(constants=k, state=state, lumen=lumen, shape=shape)


def occluded(p: Patient, circuit_: Circuit) -> tuple[float, float]:
    """Return (wedge pressure, aortic pressure), mmHg: artery blocked, vessels wide open."""
    out, _ = trial(
        p, circuit_.constants, circuit_.state, circuit_.shape, 24.0, dilation=1.0, lesion=1e5
    )
    beat = whole_beats(p, out)
    return float(beat[:, c.OUT_NODE].mean()), float(beat[:, c.OUT_ROOT].mean())
