"""Named patterns: what kind of heart, artery and muscle, and what kind of session."""

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from arteriole.errors import UnknownKey
from arteriole.simulate.faults import ARTEFACTS
from arteriole.simulate.patient import Patient, Vessel
from arteriole.simulate.script import Plan

Rng = np.random.Generator

#: Every pattern with one line for people.
PATTERNS: dict[str, str] = {
    "normal": "open artery, normal microcirculation",
    "focal": "one narrowing",
    "serial": "two or three narrowings in a row",
    "diffuse": "a lumen that is narrow over its whole length",
    "structural": "microcirculation that cannot open: raised resistance, low reserve",
    "functional": "high flow at rest, normal lowest resistance: low reserve",
    "mixed": "a narrowing and raised microvascular resistance",
    "collateralised": "a tight narrowing with well-grown collaterals",
    "infarction": "after infarction: raised resistance and two-humped transit curves",
    "spasm": "open artery with the script of a spasm test",
    "stented": "after stenting: little focal, some diffuse loss",
}


def _vessel(p: Patient, vessel: Vessel, rng: Rng) -> Patient:
    """Return the patient with this artery: size, squeeze and length go with it."""
    if vessel == "RCA":
        return replace(
            p, vessel=vessel, squeeze=rng.uniform(0.36, 0.48), length_mm=rng.uniform(75, 105)
        )
    squeeze = rng.uniform(0.68, 0.82) if vessel == "LAD" else rng.uniform(0.60, 0.74)
    return replace(p, vessel=vessel, squeeze=squeeze, length_mm=rng.uniform(68, 100))


def ordinary(rng: Rng) -> Patient:
    """Return a healthy patient as they come: size, pressure, rate, gauges."""
    size = float(np.exp(rng.normal(0.0, 0.16)))
    rate = float(np.clip(rng.normal(69.0, 10.0), 50.0, 100.0))
    p = Patient(
        heart_rate_bpm=rate,
        heart_rate_variability=rng.uniform(0.008, 0.03),
        mean_aortic_mmhg=float(np.clip(rng.normal(94.0, 8.0), 76.0, 118.0)),
        elastance_max_mmhg_ml=rng.uniform(2.0, 2.9),
        atrial_mmhg=rng.uniform(7.5, 10.5),
        compliance_ml_mmhg=rng.uniform(1.0, 1.6),
        venous_mmhg=rng.uniform(3.5, 7.5),
        respiration_per_min=rng.uniform(11.0, 18.0),
        respiration_mmhg=rng.uniform(0.4, 1.2),
        slow_wave=rng.uniform(0.008, 0.02),
        lumen_mm=rng.uniform(3.6, 4.2),
        rest_flow_ml_min=74.0 * size * float(np.exp(rng.normal(0.0, 0.12))) * (rate / 69.0) ** 0.6,
        hyper_flow_ml_min=275.0 * size * float(np.exp(rng.normal(0.0, 0.13))),
        vessel_volume_ml=0.88 * size * float(np.exp(rng.normal(0.0, 0.12))),
        collateral_mmhg_s_ml=rng.uniform(120.0, 260.0),
        tone_wander=rng.uniform(0.03, 0.08),
        drug_onset_s=rng.uniform(8.0, 12.0),
        drug_wobble=rng.uniform(0.01, 0.03),
        systemic_fall=rng.uniform(0.08, 0.20),
        rate_rise=rng.uniform(0.02, 0.16),
        injectate_c=rng.uniform(6.0, 8.5),
        sensor_lag_s=rng.uniform(0.12, 0.18),
        shaft_lag_s=rng.uniform(0.07, 0.14),
        line_hz=rng.uniform(18.0, 40.0),
        line_damping=rng.uniform(0.4, 0.8),
        pa_offset_mmhg=rng.uniform(-6.0, 6.0),
        pd_offset_mmhg=rng.uniform(-7.0, 7.0),
        pd_gain=float(np.clip(rng.normal(1.0, 0.005), 0.985, 1.015)),
        drift_mmhg=rng.normal(0.0, 0.4),
        pressure_noise_mmhg=rng.uniform(0.15, 0.4),
        temperature_noise_c=rng.uniform(0.006, 0.02),
    )
    vessels: tuple[Vessel, ...] = ("LAD", "LAD", "LCx", "RCA")
    vessel = vessels[int(rng.integers(0, len(vessels)))]
    return _vessel(p, vessel, rng)


def _normal(p: Patient, rng: Rng) -> Patient:
    return replace(p, diffuse=rng.uniform(0.0, 0.06))


def _focal(p: Patient, rng: Rng) -> Patient:
    return replace(
        p, lesion1_mm=rng.uniform(0.2, 0.5) * p.length_mm, lesion1_long_mm=rng.uniform(7.0, 15.0),
        lesion1_narrowing=rng.uniform(0.46, 0.66), diffuse=rng.uniform(0.0, 0.1),
    )  # fmt: skip


def _serial(p: Patient, rng: Rng) -> Patient:
    third = rng.uniform(0.30, 0.5) if rng.random() < 0.4 else 0.0
    return replace(
        p, lesion1_mm=0.2 * p.length_mm, lesion1_long_mm=rng.uniform(7.0, 12.0),
        lesion1_narrowing=rng.uniform(0.40, 0.58), lesion2_mm=rng.uniform(0.48, 0.6) * p.length_mm,
        lesion2_long_mm=rng.uniform(8.0, 14.0), lesion2_narrowing=rng.uniform(0.40, 0.58),
        lesion3_mm=0.85 * p.length_mm, lesion3_narrowing=third, diffuse=rng.uniform(0.02, 0.1),
    )  # fmt: skip


def _diffuse(p: Patient, rng: Rng) -> Patient:
    return replace(p, diffuse=rng.uniform(0.28, 0.44), taper=rng.uniform(0.28, 0.36))


def _structural(p: Patient, rng: Rng) -> Patient:
    return replace(
        p, rest_flow_ml_min=p.rest_flow_ml_min * rng.uniform(0.8, 1.0),
        hyper_flow_ml_min=p.hyper_flow_ml_min * rng.uniform(0.38, 0.55),
        diffuse=rng.uniform(0.0, 0.1),
    )  # fmt: skip


def _functional(p: Patient, rng: Rng) -> Patient:
    return replace(
        p, rest_flow_ml_min=p.rest_flow_ml_min * rng.uniform(1.7, 2.2),
        hyper_flow_ml_min=p.hyper_flow_ml_min * rng.uniform(0.95, 1.15),
        heart_rate_bpm=min(p.heart_rate_bpm * rng.uniform(1.0, 1.2), 110.0),
        rate_rise=0.5 * p.rate_rise, diffuse=rng.uniform(0.0, 0.08),
    )  # fmt: skip


def _mixed(p: Patient, rng: Rng) -> Patient:
    return _focal(replace(
        p, hyper_flow_ml_min=p.hyper_flow_ml_min * rng.uniform(0.45, 0.6)
    ), rng)  # fmt: skip


def _collateralised(p: Patient, rng: Rng) -> Patient:
    return replace(
        _focal(p, rng), lesion1_narrowing=rng.uniform(0.64, 0.74),
        collateral_mmhg_s_ml=rng.uniform(30.0, 60.0),
    )  # fmt: skip


def _infarction(p: Patient, rng: Rng) -> Patient:
    return replace(
        p, rest_flow_ml_min=p.rest_flow_ml_min * rng.uniform(0.7, 0.9),
        hyper_flow_ml_min=p.hyper_flow_ml_min * rng.uniform(0.3, 0.42),
        slow_path=rng.uniform(0.38, 0.5), slow_path_volume=rng.uniform(3.0, 4.0),
        dispersion=0.0, diffuse=rng.uniform(0.02, 0.12),
    )  # fmt: skip


def _spasm(p: Patient, rng: Rng) -> Patient:
    return _normal(p, rng)


def _stented(p: Patient, rng: Rng) -> Patient:
    return replace(
        p, lesion1_mm=0.3 * p.length_mm, lesion1_long_mm=18.0,
        lesion1_narrowing=rng.uniform(0.1, 0.28), diffuse=rng.uniform(0.1, 0.24),
    )  # fmt: skip


_MAKERS: dict[str, Callable[[Patient, Rng], Patient]] = {
    "normal": _normal, "focal": _focal, "serial": _serial, "diffuse": _diffuse,
    "structural": _structural, "functional": _functional, "mixed": _mixed,
    "collateralised": _collateralised, "infarction": _infarction, "spasm": _spasm,
    "stented": _stented,
}  # fmt: skip


def patient_of(pattern: str, faults: Collection[str], rng: Rng) -> Patient:
    """Return a patient of the pattern; faults of heart, drug and gauge are in it.

    Raises
    ------
    UnknownKey
        A pattern or artefact that does not exist; the message lists the good ones.
    """
    if pattern not in PATTERNS:
        raise UnknownKey(
            f"Pattern {pattern!r} is not known; allowed: {', '.join(PATTERNS)}. Choose one."
        )
    for name in faults:
        if name not in ARTEFACTS:
            raise UnknownKey(
                f"Artefact {name!r} is not known; allowed: {', '.join(ARTEFACTS)}. Choose some."
            )
    p = _MAKERS[pattern](ordinary(rng), rng)
    u = rng.uniform(0.0, 1.0, 6)
    sign = 1.0 if u[5] < 0.5 else -1.0
    if "submaximal_hyperaemia" in faults:
        p = replace(p, drug_gain=0.24 + 0.06 * u[0])
    if "unstable_hyperaemia" in faults:
        p = replace(
            p, drug_gain=0.55, drug_wobble=0.20,
            drug_wave=0.15 + 0.20 * u[1], drug_wave_s=rng.uniform(16.0, 36.0),
        )  # fmt: skip
    if "ectopy" in faults:
        p = replace(p, ectopy_per_min=3.0 + 5.0 * u[2])
    if "af" in faults:
        p = replace(p, atrial_fibrillation=0.16 + 0.08 * u[3])
    if "pd_drift" in faults:
        p = replace(p, drift_mmhg=sign * (3.5 + 3.5 * u[4]))
    if "pd_step" in faults:
        p = replace(p, drift_mmhg=sign * (3.5 + 3.5 * u[4]), drift_step=1.0)
    return p


def plan_of(pattern: str, *, continuous: bool, pa: str, route: str) -> Plan:
    """Return the kind of session that goes with the pattern."""
    plan = Plan(continuous=continuous, provocation=pattern == "spasm")
    if route == "intracoronary":
        # a dose is over before a wire is drawn back by hand
        plan = replace(plan, route="intracoronary", pullback=False)
    return replace(plan, pa=pa)  # type: ignore[arg-type]
