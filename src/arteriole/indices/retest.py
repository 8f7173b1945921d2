"""Published noise of one measurement, as a standard deviation of a single reading.

The published figures are of the difference of two readings; one reading has 1/sqrt(2) of it.
FFR has a published certainty of its decision instead, of which the wider reading is used.
"""

ROOT_HALF = 0.5**0.5
FFR_SD = 0.036  # certainty below 80 % within 0.03 of the line [Petraco2013]; the wider reading
#: in the index's own unit
ABSOLUTE = {
    "ffr": FFR_SD, "ffr_drift_corrected": FFR_SD,
    "ffr_plateau": FFR_SD, "ffr_plateau_drift_corrected": FFR_SD,
    "resting_pd_pa": 0.018 * ROOT_HALF,  # [Johnson2015]
    "full_cycle_ratio": 0.021 * ROOT_HALF,  # two wires at once [TwoWires2020]
    "diastolic_ratio": 0.021 * ROOT_HALF,  # [TwoWires2020]
    "late_diastolic_ratio": 0.021 * ROOT_HALF,  # [TwoWires2020]
    "pullback_gradient_index": 0.12 / 1.96 * ROOT_HALF,  # [Sonck2022] limits of agreement
}  # fmt: skip
#: as a share of the value; figures of [Gallinoro2023], from memory of the paper
RELATIVE = {
    "cfr_bolus": 0.313 * ROOT_HALF, "mrr_bolus": 0.313 * ROOT_HALF, "rrr": 0.313 * ROOT_HALF,
    "cfr_over_ffr": 0.313 * ROOT_HALF,
    "imr": 0.242 * ROOT_HALF, "imr_corrected": 0.242 * ROOT_HALF,
    "imr_occlusion": 0.242 * ROOT_HALF, "baseline_resistance_index": 0.242 * ROOT_HALF,
    "tmn_rest": 0.242 * ROOT_HALF, "tmn_hyper": 0.242 * ROOT_HALF,
    "cfr_continuous": 0.127 * ROOT_HALF, "mrr_continuous": 0.124 * ROOT_HALF,
    "q_rest": 0.080, "q_hyper": 0.080,  # bench repeats [vantVeer2016]
    "r_micro_rest": 0.080, "r_micro_hyper": 0.080,
    "collateral_flow_index": 0.11,  # repeat of the thermal index [Thermal2014]
}  # fmt: skip


def retest_sd(key: str, value: float) -> float:
    """Return the published noise of one reading in the index's unit; 0 where none is published."""
    plain = key.removesuffix("_lag_corrected")
    if plain in ABSOLUTE:
        return ABSOLUTE[plain]
    return RELATIVE.get(plain, 0.0) * abs(value)
