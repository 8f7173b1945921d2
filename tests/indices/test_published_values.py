"""Formulas against published inputs and outputs, and against arithmetic done by hand."""

import numpy as np
import pytest

from arteriole.indices import (
    cfr_bolus,
    cfr_continuous,
    collateral_flow_index,
    ffr,
    imr,
    imr_corrected,
    imr_occlusion,
    mrr_bolus,
    mrr_continuous,
    pullback_gradient_index,
    r_micro_hyper,
    rrr,
)
from arteriole.indices.pressure import CM_OF_BLOOD_MMHG, height_reading
from arteriole.recording import Sheet

from .cases import evidence, indices, injections


# Al-Janabi 2019: heights, cm; 0.8 mmHg/cm at Pa 100; printed change of FFR
@pytest.mark.parametrize(
    ("height_cm", "change"), [(5.26, 0.042), (-3.35, -0.027), (-5.74, -0.046), (1.83, 0.015)]
)
def test_height_moves_the_ratio_as_published(height_cm, change):
    shown = height_reading(evidence(sheet=Sheet(sensor_height_cm=height_cm)), 80.0, 100.0)

    # We take 0.77 from the density of blood, the paper 0.8: within 4 % of each other.
    moved = next(iter(shown.values())) - 0.80
    assert moved * 0.8 / CM_OF_BLOOD_MMHG == pytest.approx(change, abs=0.0006)


def test_limits_of_agreement_follow_from_bias_and_sd():
    # Sonck 2022: -0.01 +/- 0.07; printed -0.14 to 0.12, from unrounded figures
    assert pytest.approx(-0.147, abs=5e-4) == -0.01 - 1.96 * 0.07
    assert pytest.approx(0.127, abs=5e-4) == -0.01 + 1.96 * 0.07


def test_decision_certainty_of_ffr_is_the_wider_reading():
    # Petraco 2013: 80 % within 0.03 of the line needs SD 0.036; 95 % at 0.05 needs 0.030
    from scipy.stats import norm

    from arteriole.indices.retest import FFR_SD

    assert norm.cdf(0.03 / FFR_SD) == pytest.approx(0.80, abs=0.005)
    assert norm.cdf(0.05 / 0.030) == pytest.approx(0.95, abs=0.005)


def test_group_means_of_both_methods_agree_on_the_pressure_term():
    # NL-CFT, 246 patients: continuous CFR 2.6, MRR 3.1; bolus 3.5, 4.2 (group means, +/-0.05)
    assert 3.1 / cfr_continuous.formula(2.6, 1.0) == pytest.approx(4.2 / 3.5, abs=0.05)


def test_group_medians_give_the_resistive_reserve():
    # basal index in 226 patients: 68.6 / 17.1 -> about 4.0; over CFR 3.06 -> 1.31 (medians, 10 %)
    assert rrr.formula(68.6, 17.1, 1.0, 1.0) == pytest.approx(4.0, rel=0.1)
    assert rrr.formula(68.6, 17.1, 1.0, 1.0) / 3.06 == pytest.approx(1.31, rel=0.1)


def test_velocity_and_flow_give_published_ratios():
    # Gallinoro 2021: velocity 57.8 / 22.2 -> 2.60 (group means; the mean ratio is printed 2.76)
    assert cfr_continuous.formula(57.8, 22.2) == pytest.approx(2.60, abs=0.01)


def test_gradient_is_flow_times_epicardial_resistance():
    # Fournier 2021: 293 mL/min * 43 WU -> 12.6 mmHg; 228 * 83 -> 18.9 (group means)
    assert r_micro_hyper.formula(0.293 * 43, 293.0) == pytest.approx(43.0)
    assert pytest.approx(12.6, abs=0.05) == 0.293 * 43
    assert pytest.approx(18.9, abs=0.05) == 0.228 * 83


def test_three_and_three_injections_give_the_chain_of_bolus_indices():
    # arithmetic: Pd 78, Tmn .24 .26 .25; rest .95 1.02 1.00, Pd 90, Pa 95
    rows = indices()

    assert rows["tmn_hyper"].value == pytest.approx(0.25)
    assert rows["imr"].value == pytest.approx(19.5)
    assert rows["tmn_rest"].value == pytest.approx(0.99)
    assert rows["baseline_resistance_index"].value == pytest.approx(89.1)
    assert rows["cfr_bolus"].value == pytest.approx(3.96)
    assert rows["rrr"].value == pytest.approx(4.569, abs=5e-4)
    assert rows["mrr_bolus"].value == pytest.approx(4.823, abs=5e-4)


def test_three_forms_of_imr_under_a_stenosis():
    # arithmetic with Layland 2012 and Yong 2013 (form second-hand, from a textbook)
    assert imr.formula(60.0, 0.25) == pytest.approx(15.00)
    assert imr_corrected.formula(60.0, 85.0, 0.25) == pytest.approx(13.45)
    assert imr_occlusion.formula(60.0, 85.0, 0.25, 20.0) == pytest.approx(13.08, abs=5e-3)
    assert ffr.formula(60.0, 85.0) == pytest.approx(0.706, abs=5e-4)
    assert pytest.approx(0.615, abs=5e-4) == (60.0 - 20.0) / (85.0 - 20.0)


def test_yong_form_crosses_plain_imr_near_a_ratio_of_0_914():
    # arithmetic with Yong 2013
    assert imr_corrected.formula(81.0, 90.0, 0.20) == pytest.approx(16.11)
    assert imr.formula(81.0, 0.20) == pytest.approx(16.20)
    assert imr_corrected.formula(92.0, 95.0, 0.18) == pytest.approx(16.88, abs=5e-3)
    assert imr.formula(92.0, 0.18) == pytest.approx(16.56)
    assert imr_corrected.formula(0.9143, 1.0, 1.0) == pytest.approx(0.9143, abs=1e-4)


def test_continuous_flows_give_reserve_resistance_and_mrr():
    # Q = 1.08 (Ti/T) Qi: 20, -5.0, -0.50 -> 216; 10, -6.0, -0.90 -> 72 (arithmetic)
    high, low = 1.08 * 10.0 * 20.0, 1.08 * (6.0 / 0.9) * 10.0

    assert (high, low) == (pytest.approx(216.0), pytest.approx(72.0))
    assert cfr_continuous.formula(high, low) == pytest.approx(3.00)
    assert r_micro_hyper.formula(76.0, high) == pytest.approx(351.9, abs=0.05)
    assert r_micro_hyper.formula(92.0, low) == pytest.approx(1277.8, abs=0.05)
    assert mrr_continuous.formula(high, low, 95.0, 76.0) == pytest.approx(3.75)
    assert pytest.approx(3.75) == (3.00 / (76.0 / 90.0)) * (95.0 / 90.0)


def test_collateral_index_crosses_its_line_when_venous_pressure_is_ignored():
    # Seiler 1998: (Pw - CVP) / (Pa - CVP); Pw 25, CVP 5, Pa 90
    assert collateral_flow_index.formula(25.0, 90.0, 5.0) == pytest.approx(0.235, abs=5e-4)
    assert collateral_flow_index.formula(25.0, 90.0, 0.0) == pytest.approx(0.278, abs=5e-4)


def test_gradient_index_of_a_mixed_pullback():
    # Collet 2019 (form from memory): drop 0.20 over 20 mm of 0.30 in all, 30 of 100 mm diseased
    assert pullback_gradient_index.formula(0.20, 0.30, 0.30) == pytest.approx(0.683, abs=5e-4)


def test_ratio_of_means_is_not_the_mean_of_ratios():
    pa, pd = np.array([80.0, 120.0]), np.array([60.0, 108.0])

    assert ffr.formula(pd.mean(), pa.mean()) == pytest.approx(0.840)
    assert np.mean(pd / pa) == pytest.approx(0.825)


def test_a_shift_of_time_zero_raises_flow_reserve():
    # arithmetic: 1.00 and 0.25 s, 0.05 s too late a zero -> 4.75
    assert cfr_bolus.formula(0.95, 0.20) == pytest.approx(4.75)


def test_venous_pressure_lowers_ffr():
    # arithmetic; the need in Heart 1999;82:644: Pd 60, Pa 85, Pv 5 and 10
    assert pytest.approx(0.688, abs=5e-4) == (60.0 - 5.0) / (85.0 - 5.0)
    rows = indices(sheet=Sheet(cvp_mmhg=5.0))
    assert rows["ffr"].alternatives["(Pd-Pv)/(Pa-Pv)"] == pytest.approx(73.0 / 85.0)


def test_mrr_is_flow_reserve_over_ffr_with_the_pressures_of_both_states():
    # De Bruyne 2021: MRR = CFR/FFR * Pa_rest/Pa_hyper
    assert mrr_bolus.formula(0.99, 0.25, 95.0, 78.0) == pytest.approx(
        (0.99 / 0.25) / (78.0 / 90.0) * (95.0 / 90.0)
    )
    assert len(injections()) == 6
