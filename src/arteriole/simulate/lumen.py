"""Pressure loss along the artery: viscous and turbulent, from its geometry."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.simulate.patient import Patient

Row = npt.NDArray[np.float64]

STEP_MM = 0.5  # grid of the profile; our choice, decision 0021
BLOOD_KG_M3 = 1060.0  # [Young1973]
PA_PER_MMHG = 133.322387415  # BIPM SI brochure
RECOVERY_MM = 3.0  # the turbulent loss is spread over this length behind a lesion


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lumen:
    """Losses summed from the ostium on: ``drop = viscous*Q + turbulent*Q*|Q|``, Q in mL/s."""

    position_mm: Row  # shape (n,), 0 at the ostium
    viscous_mmhg_s_ml: Row  # shape (n,), rising
    turbulent_mmhg_s2_ml2: Row  # shape (n,), rising
    diameter_mm: Row

    def at(self, fraction: Row) -> tuple[Row, Row]:
        """Return both sums at ``fraction`` (0 ostium, 1 first sensor site)."""
        x = np.clip(fraction, 0.0, 1.0) * self.position_mm[-1]
        return (
            np.interp(x, self.position_mm, self.viscous_mmhg_s_ml),
            np.interp(x, self.position_mm, self.turbulent_mmhg_s2_ml2),
        )


def lesions_of(patient: Patient) -> tuple[tuple[float, float, float], ...]:
    """Return (centre mm, length mm, narrowing of the diameter) of every lesion there is."""
    rows = (
        (patient.lesion1_mm, patient.lesion1_long_mm, patient.lesion1_narrowing),
        (patient.lesion2_mm, patient.lesion2_long_mm, patient.lesion2_narrowing),
        (patient.lesion3_mm, patient.lesion3_long_mm, patient.lesion3_narrowing),
    )
    return tuple(r for r in rows if r[2] > 0.0)


def lumen_of(patient: Patient) -> Lumen:
    """Return the loss profile of the artery.

    Viscous part: Poiseuille over the local diameter; turbulent part: sudden expansion behind
    each lesion, ``K/2 rho (1/A_throat - 1/A_artery)^2``.

    Source
    ------
    [Young1973] eq. 5; the coefficient is a parameter.
    """
    n = max(round(patient.length_mm / STEP_MM), 8)
    x = np.linspace(0.0, patient.length_mm, n + 1)
    free = patient.lumen_mm * (1.0 - patient.taper * x / patient.length_mm)
    free = free * (1.0 - patient.diffuse)
    wide = free.copy()
    turbulent = np.zeros_like(x)
    for centre, long, narrowing in lesions_of(patient):
        # a cosine-shouldered throat: /--\__/--\ along the length
        inside = np.abs(x - centre) / (0.5 * long)
        depth = narrowing * np.where(inside < 1.0, 0.5 * (1.0 + np.cos(np.pi * inside**2)), 0.0)
        wide = np.minimum(wide, free * (1.0 - depth))
        d0 = np.interp(centre, x, free)
        a0 = np.pi / 4.0 * (d0 * 1e-3) ** 2
        throat = a0 * (1.0 - narrowing) ** 2
        loss = patient.turbulence * BLOOD_KG_M3 / 2.0 * (1.0 / throat - 1.0 / a0) ** 2
        loss *= 1e-12 / PA_PER_MMHG  # Pa/(m3/s)^2 -> mmHg/(mL/s)^2
        turbulent += loss * np.clip((x - centre) / (0.5 * long + RECOVERY_MM), 0.0, 1.0)
    area = np.pi / 4.0 * (wide * 1e-3) ** 2
    slope = 8.0 * np.pi * patient.viscosity_pa_s / area**2 * 1e-6 / PA_PER_MMHG  # per metre
    step = np.diff(x) * 1e-3
    viscous = np.concatenate(([0.0], np.cumsum(0.5 * (slope[1:] + slope[:-1]) * step)))
    return Lumen(
        position_mm=x,
        viscous_mmhg_s_ml=viscous,
        turbulent_mmhg_s2_ml2=turbulent,
        diameter_mm=wide,
    )
