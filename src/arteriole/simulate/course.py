"""What happens inside the patient: drug, rhythm, circulation, cold, in that order."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.simulate import circulation as c
from arteriole.simulate import drug, heart, schedule, transport
from arteriole.simulate.acts import Act
from arteriole.simulate.lumen import Lumen
from arteriole.simulate.patient import Patient
from arteriole.simulate.rhythm import Beats, beats
from arteriole.simulate.wander import wander

Row = npt.NDArray[np.float64]

DILATED_IS_STILL = 0.6  # share of the tone's wander that full dilation takes away; decision 0021


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """Everything that happened inside, one row per sample; times in s, places as in schedule."""

    patient: Patient
    acts: tuple[Act, ...]
    rate_hz: float
    t_s: Row
    beats: Beats
    dilation: Row
    systemic: Row
    place: Row
    inject_ml_s: Row
    infuse_c: Row
    circuit: heart.Circuit
    flow: Row  # table of circulation.OUTPUTS columns
    lesion: Row
    pd_mmhg: Row  # error-free, where the sensor is
    cold: Row  # table of transport.OUTPUTS columns


def pd_at(flow: Row, lumen: Lumen, patient: Patient, fraction: Row, lesion: Row) -> Row:
    """Return the pressure at ``fraction`` of the artery's length, mmHg."""
    viscous, turbulent = lumen.at(fraction)
    q = flow[:, c.OUT_FLOW]
    inertia = patient.inertance_mmhg_s2_ml * np.clip(fraction, 0.0, 1.0)
    drop = lesion * (viscous * q + turbulent * q * np.abs(q)) + inertia * flow[:, c.OUT_DQDT]
    return np.asarray(flow[:, c.OUT_OSTIUM] - drop, dtype=np.float64)


def course(
    patient: Patient, acts: Sequence[Act], duration_s: float, rate_hz: float, seed: int
) -> Course:
    """Return what happens inside the patient under the acts: no gauge, no noise."""
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence([seed, 2]).spawn(6)]
    n = round(duration_s * rate_hz)
    t = np.arange(n) / rate_hz
    wobble = wander(streams[0], n, rate_hz, memory_s=9.0, sd=patient.drug_wobble)
    dilation, systemic = drug.dilation(
        patient, acts, t, rate_hz, state=np.zeros(drug.STATES), wobble=wobble,
        waves=drug.waves(patient, t, rate_hz, streams[4:]),
    )  # fmt: skip
    beat = beats(patient, systemic, rate_hz, streams[1])
    circuit = heart.circuit(patient)
    table = np.empty((n, c.INPUTS))
    slow = wander(streams[2], n, rate_hz, memory_s=12.0, sd=patient.slow_wave)
    breath = np.sin(2.0 * np.pi * patient.respiration_per_min / 60.0 * t)
    table[:, c.IN_SVR] = (1.0 - patient.systemic_fall * systemic) * (1.0 + slow)
    table[:, c.IN_ATRIAL] = patient.atrial_mmhg + patient.respiration_mmhg * breath
    table[:, c.IN_VENOUS] = patient.venous_mmhg + 0.5 * patient.respiration_mmhg * breath
    table[:, c.IN_DILATION] = dilation
    table[:, c.IN_LESION], tone = schedule.spasm(acts, t)
    restless = wander(streams[3], n, rate_hz, memory_s=15.0, sd=patient.tone_wander)
    table[:, c.IN_TONE] = tone * np.exp(restless * (1.0 - DILATED_IS_STILL * dilation))
    inject = schedule.injected(acts, t)
    table[:, c.IN_INJECT] = inject
    table[:, c.IN_WEDGE] = schedule.wedge(acts, t)
    steps = heart.substeps(rate_hz)
    dt = 1.0 / (rate_hz * steps)
    flow = np.empty((n, c.OUTPUTS))
    state = circuit.state.copy()
    state[c.S_BEAT] = 0.0
    c.solver()(
        state, circuit.constants, circuit.shape, beat.onset_s, beat.root_rr, beat.strength,
        table, flow, 0, dt, steps, True,
    )  # fmt: skip
    place = schedule.place(acts, t)
    _, infusate, heat = schedule.infusion(patient, acts, t)
    moved = np.empty((n, transport.INPUTS))
    moved[:, transport.IN_FLOW] = flow[:, c.OUT_MEANFLOW]
    moved[:, transport.IN_INJECT] = inject
    moved[:, transport.IN_THETA] = patient.injectate_c
    moved[:, transport.IN_HEAT] = heat
    moved[:, transport.IN_PLACE] = place
    moved[:, transport.IN_INFUSATE] = infusate
    cold = np.empty((n, transport.OUTPUTS))
    transport.solver()(
        np.zeros(transport.STATES), transport_constants(patient), moved, cold, dt, steps
    )
    lesion = np.ascontiguousarray(table[:, c.IN_LESION])
    return Course(
        patient=patient, acts=tuple(acts), rate_hz=rate_hz, t_s=t, beats=beat, dilation=dilation,
        systemic=systemic, place=place, inject_ml_s=inject, infuse_c=infusate, circuit=circuit,
        flow=flow, lesion=lesion, pd_mmhg=pd_at(flow, circuit.lumen, patient, place, lesion),
        cold=cold,
    )  # fmt: skip


def transport_constants(p: Patient) -> Row:
    """Return the constants of :mod:`transport` for a patient, shape (transport.CONSTANTS,)."""
    return np.array([
        p.vessel_volume_ml, p.slow_path, p.slow_path_volume, p.dispersion, p.wall_per_s,
        p.wall_mass, p.wall_loss_per_s, p.guide_ml, p.guide_warming_s, p.mixing_ml_s,
        p.sensor_lag_s, p.shaft_lag_s,
    ])  # fmt: skip
