"""When the heart beats: breathing, slow wander, extra beats, atrial fibrillation."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.simulate.patient import Patient

Row = npt.NDArray[np.float64]

SLOW_MEMORY = 0.92  # of one beat's wander in the next; decision 0021
BREATHING_SHARE = 0.6  # of the variability that goes with breathing
SHORTEST_S = 0.28
COUPLING = 0.62  # extra beat over the expected interval
PAUSE = 1.38  # the next interval, nearly compensatory
WEAK = 0.90  # contractility of an extra beat
PRIOR_BEATS_S = -3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beats:
    """Onsets of ventricular activation, shape (k,), with what the heart makes of each."""

    onset_s: Row
    root_rr: Row  # root of the interval that sets the duration of systole, s^0.5
    strength: Row
    extra: npt.NDArray[np.bool_]


def beats(patient: Patient, systemic: Row, rate_hz: float, rng: np.random.Generator) -> Beats:
    """Return the beats of a session as long as ``systemic`` (drug effect, 0 to 1).

    One beat is drawn after the other, so the row for a shorter time is its beginning.
    """
    end_s = systemic.size / rate_hz + 2.0
    rows: list[tuple[float, float, float, bool]] = []
    t, slow, forced = PRIOR_BEATS_S, 0.0, 0.0
    last = 60.0 / patient.heart_rate_bpm
    while t < end_s:
        k = min(max(int(t * rate_hz), 0), systemic.size - 1)
        rate = patient.heart_rate_bpm * (1.0 + patient.rate_rise * systemic[k])
        rr = 60.0 / rate
        n1, n2, u = rng.standard_normal(), rng.standard_normal(), rng.random()
        slow = SLOW_MEMORY * slow + (1.0 - SLOW_MEMORY**2) ** 0.5 * n1
        breath = np.sin(2.0 * np.pi * patient.respiration_per_min / 60.0 * t)
        wander = (1.0 - BREATHING_SHARE) * slow + BREATHING_SHARE * 1.4 * breath
        strength, extra = 1.0, False
        expected = rr
        rr *= 1.0 + patient.heart_rate_variability * wander
        if patient.atrial_fibrillation > 0.0:
            rr *= float(np.exp(patient.atrial_fibrillation * n2))
        if forced > 0.0:
            rr, forced = forced * rr, 0.0
        elif t > 0.0 and u < patient.ectopy_per_min / 60.0 * expected:
            # this interval is short, the beat that ends it is the extra one
            rr, forced, extra = COUPLING * expected, PAUSE, True
        rr = max(rr, SHORTEST_S)
        t += rr
        if extra:
            strength = WEAK
        last = 0.5 * last + 0.5 * min(rr, 1.4)
        rows.append((t, last**0.5, strength, extra))
    table = np.array([r[:3] for r in rows], dtype=np.float64)
    return Beats(
        onset_s=np.ascontiguousarray(table[:, 0]),
        root_rr=np.ascontiguousarray(table[:, 1]),
        strength=np.ascontiguousarray(table[:, 2]),
        extra=np.array([r[3] for r in rows], dtype=np.bool_),
    )
