"""Vasodilation over time: adenosine by vein or artery, contrast, saline.

Three compartments in a row between the vein and the muscle; two for what is given into the
artery. The effect is a saturating function of the amount that arrives.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from arteriole.simulate.acts import Act, Adenosine, Flush, Infuse, Inject, Provoke, of_kind
from arteriole.simulate.compiled import compiled
from arteriole.simulate.patient import Patient
from arteriole.simulate.wander import wander

Row = npt.NDArray[np.float64]

STATES = 6
HALF = 0.30  # amount of half effect, intravenous plateau = 1; decision 0021
POWER = 2.6
ARTERY_IN_S = 1.6  # our choice, decision 0021; gives a plateau inside [Adjedj2015]
ARTERY_OUT_S = 6.5
MUSCLE_S = 2.5  # the vessel wall follows with this; decision 0021
#: Amounts that go to the artery: one dose, per mL contrast, per mL cold saline.
DOSE = 14.0
PER_CONTRAST_ML = 0.093  # 8 mL reach 65 % of the adenosine flow, [Adjedj2015]
PER_SALINE_ML = 0.07
#: Saline infusion: none at 10, full at 20 mL/min, [Gallinoro2021]
INFUSION_HALF_ML_MIN = 14.5
INFUSION_POWER = 14.0
WAVE_PACE_SD, WAVE_HEIGHT_SD = 0.10, 0.20  # waves of the drug are not clockwork; decision 0092


def _flow_in(
    state: Row, vein: Row, waves: Row, artery: Row, fixed: Row, dt: float, onset_s: float,
    half: float, power: float, into_s: float, out_s: float, muscle_s: float,
    dilation: Row, systemic: Row,
) -> None:  # fmt: skip
    top = 1.0 + half**power
    for k in range(vein.shape[0]):
        state[0] += dt / onset_s * (vein[k] - state[0])
        state[1] += dt / onset_s * (state[0] - state[1])
        state[2] += dt / onset_s * (state[1] - state[2])
        state[3] += artery[k] * dt - dt / into_s * state[3]
        state[4] += dt / into_s * state[3] - dt / out_s * state[4]
        by_vein = state[2] * waves[k]
        amount = by_vein + state[4] + fixed[k]
        c = amount**power
        aim = min(top * c / (c + half**power), 1.0)
        state[5] += dt / muscle_s * (aim - state[5])
        dilation[k] = state[5]
        s = by_vein**power
        systemic[k] = min(top * s / (s + half**power), 1.0)


def dilation(
    patient: Patient, acts: Sequence[Act], t_s: Row, rate_hz: float, *, state: Row,
    wobble: Row, waves: Row,
) -> tuple[Row, Row]:  # fmt: skip
    """Return dilation and systemic effect, both 0 to 1, at the times ``t_s``; moves ``state``.

    ``wobble`` shape (n,) is the relative wander of the drug where it is given, ``waves`` shape (n,)
    the factor on what comes from the vein to the heart; decision 0092.
    """
    vein = np.zeros_like(t_s)
    artery = np.zeros_like(t_s)
    fixed = np.zeros_like(t_s)
    for a in of_kind(acts, Adenosine):
        if a.route == "intravenous":
            vein += ((t_s >= a.start_s) & (t_s < a.end_s)) * patient.drug_gain
        else:
            _spread(artery, t_s, a.start_s, a.end_s, DOSE * patient.drug_gain)
    for f in of_kind(acts, Flush):
        per_ml = PER_CONTRAST_ML if f.agent == "contrast" else PER_SALINE_ML * 0.5
        _spread(artery, t_s, f.start_s, f.end_s, per_ml * f.volume_ml)
    for i in of_kind(acts, Inject):
        _spread(artery, t_s, i.start_s, i.end_s, PER_SALINE_ML * i.volume_ml)
    for q in of_kind(acts, Infuse):
        r = (q.rate_ml_min / INFUSION_HALF_ML_MIN) ** INFUSION_POWER
        level = 1.2 * r / (1.0 + r)
        fixed += level * _ramp(t_s, q.start_s, q.end_s)
    for p in of_kind(acts, Provoke):
        if p.agent == "nitrate":
            _spread(artery, t_s, p.start_s, p.end_s, 0.5)
    vein = np.maximum(vein * (1.0 + wobble), 0.0)
    effect = np.empty_like(t_s)
    systemic = np.empty_like(t_s)
    compiled(_flow_in)(
        state, vein, waves, artery, fixed, 1.0 / rate_hz, patient.drug_onset_s, HALF, POWER,
        ARTERY_IN_S, ARTERY_OUT_S, MUSCLE_S, effect, systemic,
    )  # fmt: skip
    return effect, systemic


def waves(p: Patient, t_s: Row, rate_hz: float, streams: Sequence[np.random.Generator]) -> Row:
    """Return the factor on the drug that comes to the heart: waves of uneven height and length.

    Shape (n,) as ``t_s``, whole from its first sample; mean 1. ``streams``: two generators.
    """
    if p.drug_wave == 0.0:
        return np.ones_like(t_s)
    first = streams[0].uniform(0.0, 2.0 * np.pi)
    pace, height = (
        1.0 + wander(s, t_s.size, rate_hz, memory_s=p.drug_wave_s, sd=sd)
        for s, sd in zip(streams, (WAVE_PACE_SD, WAVE_HEIGHT_SD), strict=True)
    )
    phase = first + 2.0 * np.pi / (p.drug_wave_s * rate_hz) * np.cumsum(pace)
    return np.asarray(np.maximum(1.0 + p.drug_wave * height * np.sin(phase), 0.0))


def _spread(row: Row, t_s: Row, start_s: float, end_s: float, amount: float) -> None:
    row += ((t_s >= start_s) & (t_s < end_s)) * (amount / max(end_s - start_s, 1e-3))


def _ramp(t_s: Row, start_s: float, end_s: float) -> Row:
    up = 1.0 - np.exp(-np.maximum(t_s - start_s, 0.0) / 6.0)
    down = np.exp(-np.maximum(t_s - end_s, 0.0) / 8.0)
    return np.asarray(np.where(t_s < start_s, 0.0, up * down), dtype=np.float64)
