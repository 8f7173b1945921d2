"""The virtual patient: every physical constant of the model, with unit and source."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from arteriole.errors import OptionError, UnknownKey

Vessel = Literal["LAD", "LCx", "RCA"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """One heart, one artery, one wire. Sources and ranges stand in docs/simulator.md.

    Values without a key are our choice, decision 0021; they lie inside the ranges named there.
    """

    vessel: Vessel = "LAD"
    # heart and arterial tree
    heart_rate_bpm: float = 68.0
    heart_rate_variability: float = 0.02  # SD of RR over its mean, slow part
    atrial_fibrillation: float = 0.0  # SD of ln RR; 0 = sinus
    ectopy_per_min: float = 0.0
    mean_aortic_mmhg: float = 93.0
    elastance_max_mmhg_ml: float = 2.4  # [Stergiopulos1996]
    elastance_min_mmhg_ml: float = 0.07
    unstressed_ml: float = 10.0
    atrial_mmhg: float = 9.0
    mitral_mmhg_s_ml: float = 0.010
    valve_area_cm2: float = 4.0  # [Mynard2012]
    valve_rate_per_mmhg_s: float = 14.0
    compliance_ml_mmhg: float = 1.3  # whole tree
    venous_mmhg: float = 5.0
    respiration_per_min: float = 14.0
    respiration_mmhg: float = 2.0
    slow_wave: float = 0.015  # relative wander of systemic resistance
    # artery: lumen along its length
    length_mm: float = 85.0
    lumen_mm: float = 3.9  # at the ostium; tapers
    taper: float = 0.28  # relative loss of diameter from ostium to sensor
    diffuse: float = 0.0  # relative narrowing over the whole length
    lesion1_mm: float = 25.0
    lesion1_long_mm: float = 10.0
    lesion1_narrowing: float = 0.0  # of the diameter
    lesion2_mm: float = 50.0
    lesion2_long_mm: float = 12.0
    lesion2_narrowing: float = 0.0
    lesion3_mm: float = 68.0
    lesion3_long_mm: float = 8.0
    lesion3_narrowing: float = 0.0
    viscosity_pa_s: float = 0.0035
    turbulence: float = 1.52  # [Young1973]
    inertance_mmhg_s2_ml: float = 0.010
    # microcirculation
    rest_flow_ml_min: float = 78.0  # as in the healthy artery at the mean pressure above
    hyper_flow_ml_min: float = 270.0  # [Fournier2021]
    squeeze: float = 0.74  # intramyocardial pressure over ventricular pressure
    arterial_compliance_ml_mmhg: float = 0.0015
    muscle_compliance_ml_mmhg: float = 0.040
    muscle_volume_ml: float = 2.9
    squeeze_power: float = 2.0  # resistance rises as volume^-power, [Bruinsma1988]
    autoregulation: float = 0.85
    autoregulation_s: float = 7.0
    tone_wander: float = 0.05  # relative wander of microvascular tone at rest
    collateral_mmhg_s_ml: float = 180.0
    # adenosine
    drug_gain: float = 1.0  # < 0.4: submaximal
    drug_onset_s: float = 9.0  # each of three compartments
    drug_wobble: float = 0.02
    drug_wave: float = 0.0  # height of regular waves of the drug over its mean; decision 0092
    drug_wave_s: float = 24.0  # their period
    systemic_fall: float = 0.15
    rate_rise: float = 0.10
    # temperature
    vessel_volume_ml: float = 0.85
    slow_path: float = 0.0  # share of the flow on a second, slower path; two-humped curves
    slow_path_volume: float = 3.2  # its volume over that of the fast path
    dispersion: float = 0.05
    wall_per_s: float = 0.30
    wall_mass: float = 0.8
    wall_loss_per_s: float = 0.01
    injectate_c: float = 7.0  # below blood, at the catheter's tip
    infusate_rest_c: float = 4.2
    infusate_hyper_c: float = 5.6
    guide_ml: float = 0.25
    guide_warming_s: float = 2.2
    mixing_ml_s: float = 0.6
    injection_mmhg_s_ml: float = 1.0
    blood_c: float = 36.7
    # gauges
    sensor_lag_s: float = 0.15
    shaft_lag_s: float = 0.10
    line_hz: float = 28.0
    line_damping: float = 0.55
    pa_offset_mmhg: float = 2.0
    pd_offset_mmhg: float = -4.0
    pd_gain: float = 1.0
    drift_mmhg: float = -0.3
    drift_step: float = 0.0  # share of the drift that comes as a step
    pressure_noise_mmhg: float = 0.25
    temperature_noise_c: float = 0.012


#: Fields a person may set by number.
SETTABLE = tuple(f.name for f in fields(Patient) if f.name != "vessel")
_DEFAULTS = {f.name: f.default for f in fields(Patient)}
#: Ranges that are not "a fifth to five times the default"; our choice, decision 0021.
LIMITS: dict[str, tuple[float, float]] = {
    "heart_rate_bpm": (30.0, 220.0),
    "heart_rate_variability": (0.0, 0.3),
    "atrial_fibrillation": (0.0, 0.5),
    "ectopy_per_min": (0.0, 30.0),
    "mean_aortic_mmhg": (45.0, 180.0),
    "venous_mmhg": (0.0, 25.0),
    "atrial_mmhg": (3.0, 25.0),
    "length_mm": (40.0, 200.0),
    "lumen_mm": (2.0, 6.0),
    "unstressed_ml": (0.0, 50.0),
    "respiration_mmhg": (0.0, 5.0),
    "slow_wave": (0.0, 0.2),
    "taper": (0.0, 0.7),
    "diffuse": (0.0, 0.7),
    **{f"lesion{k}_mm": (1.0, 300.0) for k in (1, 2, 3)},
    **{f"lesion{k}_long_mm": (2.0, 100.0) for k in (1, 2, 3)},
    **{f"lesion{k}_narrowing": (0.0, 0.85) for k in (1, 2, 3)},
    "inertance_mmhg_s2_ml": (0.0, 0.2),
    "turbulence": (0.0, 5.0),
    "squeeze": (0.0, 1.2),
    "squeeze_power": (0.0, 3.0),
    "autoregulation": (0.0, 1.2),
    "tone_wander": (0.0, 0.3),
    "collateral_mmhg_s_ml": (5.0, 1e6),
    "drug_gain": (0.0, 2.0),
    "drug_wobble": (0.0, 0.8),
    "drug_wave": (0.0, 0.9),
    "drug_wave_s": (10.0, 120.0),
    "systemic_fall": (0.0, 0.5),
    "rate_rise": (0.0, 0.6),
    "slow_path": (0.0, 0.8),
    "dispersion": (0.0, 0.5),
    "wall_per_s": (0.0, 2.0),
    "wall_loss_per_s": (0.0, 1.0),
    "mixing_ml_s": (0.0, 5.0),
    "injection_mmhg_s_ml": (0.0, 5.0),
    "blood_c": (30.0, 42.0),
    "line_hz": (1.0, 100.0),
    "line_damping": (0.02, 3.0),
    "pa_offset_mmhg": (-30.0, 30.0),
    "pd_offset_mmhg": (-30.0, 30.0),
    "pd_gain": (0.8, 1.2),
    "drift_mmhg": (-25.0, 25.0),
    "drift_step": (0.0, 1.0),
    "pressure_noise_mmhg": (0.0, 10.0),
    "temperature_noise_c": (0.0, 1.0),
}


def limits_of(key: str) -> tuple[float, float]:
    """Return the lowest and highest value a constant may have."""
    default = _DEFAULTS[key]
    assert isinstance(default, float)
    return LIMITS.get(key, (0.2 * default, 5.0 * default))


def with_overrides(patient: Patient, overrides: Mapping[str, float]) -> Patient:
    """Return the patient with some constants replaced.

    Raises
    ------
    UnknownKey
        A name that is no constant of the model.
    OptionError
        A value out of its range.
    """
    for key in overrides:
        if key not in SETTABLE:
            raise UnknownKey(
                f"Patient constant {key!r} is not known; allowed: {', '.join(SETTABLE)}. "
                "Correct the name."
            )
        low, high = limits_of(key)
        if not low <= overrides[key] <= high:
            raise OptionError(
                f"Patient constant {key} was given {overrides[key]:g}; allowed: {low:g} to "
                f"{high:g}. Choose a value in the range."
            )
    numbers: dict[str, Any] = {k: float(v) for k, v in overrides.items()}
    return replace(patient, **numbers)
