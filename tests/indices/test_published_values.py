"""Formulas against published inputs and outputs, and against arithmetic done by hand."""

import numpy as np
import pytest

from arteriole.indices import (
    FlowEvidence,
    Offset,
    Pressures,
    cfr_continuous,
    collateral_flow_index,
    ffr,
    imr,
    imr_corrected,
    imr_occlusion,
    mrr_bolus,
    mrr_continuous,
    pullback_gradient_index,
    rrr,
)
from arteriole.indices.calibration import (
    BY_PROBE,
    EXPECTED,
    flow_of_thermodilution,
    late_diastolic_from_pd_pa,
    thermodilution_of_flow,
)
from arteriole.indices.means import pressures_of
from arteriole.indices.pressure import CM_OF_BLOOD_MMHG, height_reading, venous_reading
from arteriole.recording import Sheet

from .cases import evidence, indices, injections
from .test_compute import beats


# CONTRAST 2017: late-diastolic = 1.31 Pd/Pa - 0.31; published median 0.90 at median Pd/Pa 0.92
@pytest.mark.parametrize(("pd_pa", "late"), [(0.92, 0.895), (0.91, 0.882), (1.00, 1.00)])
def test_resting_pd_pa_lets_expect_the_published_late_diastolic_ratio(pd_pa, late):
    assert late_diastolic_from_pd_pa(pd_pa) == pytest.approx(late, abs=5e-4)


def test_what_is_expected_stands_beside_the_late_diastolic_ratio_or_in_its_place():
    ratios = {"late_diastolic_ratio": 0.90, "mid_diastolic_ratio": 0.91, "diastolic_ratio": 0.91}
    state = Pressures(pa_mmhg=100.0, pd_mmhg=92.0, ratios=ratios)
    rows = indices(rest=state)
    without = indices(rest=Pressures(pa_mmhg=100.0, pd_mmhg=92.0))["late_diastolic_ratio"]

    assert rows["late_diastolic_ratio"].alternatives[EXPECTED] == pytest.approx(0.895, abs=5e-4)
    assert "mid-diastolic ratio" in rows["diastolic_ratio"].alternatives
    assert "0.90" in without.withheld.do  # 0.895 as printed


# Al-Janabi 2019: heights, cm; 0.8 mmHg/cm at Pa 100; printed change of FFR
@pytest.mark.parametrize(
    ("height_cm", "change"), [(5.26, 0.042), (-3.35, -0.027), (-5.74, -0.046), (1.83, 0.015)]
)
def test_height_moves_the_ratio_as_published(height_cm, change):
    shown = height_reading(evidence(sheet=Sheet(sensor_height_cm=height_cm)), 80.0, 100.0)

    # We take 0.77 from the density of blood, the paper 0.8: 4 % apart; it prints three digits.
    moved = next(iter(shown.values())) - 0.80
    assert moved == pytest.approx(change, abs=0.04 * abs(change) + 0.0005)


def test_a_centimetre_of_blood_weighs_what_its_density_says():
    # arithmetic: 1050 kg/m3, 9.81 m/s2; 133.322 Pa are 1 mmHg
    assert pytest.approx(1050.0 * 9.81 * 0.01 / 133.322, abs=0.005) == CM_OF_BLOOD_MMHG


@pytest.mark.parametrize(("vessel", "change"), [("LAD", 0.042), ("LCx", -0.027), ("RCA", None)])
def test_a_height_nobody_wrote_down_is_tried_as_the_usual_one_of_the_artery(vessel, change):
    # Al-Janabi 2019, as above; the branches of the right artery lie on both sides of the tip
    rows = indices(sheet=Sheet(vessel=vessel), plateau=Pressures(pa_mmhg=100.0, pd_mmhg=80.0))
    one = rows["ffr"]
    usual = [v for k, v in one.alternatives.items() if k.startswith("usual height")]

    assert usual == ([] if change is None else [pytest.approx(0.80 + change, abs=0.002)])
    assert one.value == pytest.approx(0.80)  # never in place of the value as read
    assert one.certainty == indices(plateau=Pressures(pa_mmhg=100.0, pd_mmhg=80.0))["ffr"].certainty


def test_decision_certainty_of_ffr_is_the_wider_reading():
    # Petraco 2013: 80 % within 0.03 of the line needs SD 0.036; 95 % at 0.05 needs 0.030
    from scipy.stats import norm

    from arteriole.indices.retest import FFR_SD

    assert norm.cdf(0.03 / FFR_SD) == pytest.approx(0.80, abs=0.005)
    assert norm.cdf(0.05 / 0.030) == pytest.approx(0.95, abs=0.005)


def test_group_medians_give_the_resistive_reserve():
    # basal index in 226 patients: 68.6 / 17.1 -> about 4.0; over CFR 3.06 -> 1.31 (medians, 10 %)
    assert rrr.formula(68.6, 17.1, 1.0, 1.0) == pytest.approx(4.0, rel=0.1)
    assert rrr.formula(68.6, 17.1, 1.0, 1.0) / 3.06 == pytest.approx(1.31, rel=0.1)


def test_velocity_and_flow_give_published_ratios():
    # Gallinoro 2021: velocity 57.8 / 22.2 -> 2.60 (group means; the mean ratio is printed 2.76)
    assert cfr_continuous.formula(57.8, 22.2) == pytest.approx(2.60, abs=0.01)


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
    shown = venous_reading(evidence(sheet=Sheet(cvp_mmhg=20.0)), 60.0, 85.0)
    assert shown["(Pd-Pv)/(Pa-Pv)"] == pytest.approx(0.615, abs=5e-4)  # of the coronary: Pv = Pw


def test_yong_form_crosses_plain_imr_near_a_ratio_of_0_914():
    # arithmetic with Yong 2013
    assert imr_corrected.formula(81.0, 90.0, 0.20) == pytest.approx(16.11)
    assert imr.formula(81.0, 0.20) == pytest.approx(16.20)
    assert imr_corrected.formula(92.0, 95.0, 0.18) == pytest.approx(16.88, abs=5e-3)
    assert imr.formula(92.0, 0.18) == pytest.approx(16.56)
    assert imr_corrected.formula(0.9143, 1.0, 1.0) == pytest.approx(0.9143, abs=1e-4)


def test_continuous_flows_give_reserve_resistance_and_mrr():
    # arithmetic; that 20, -5.0, -0.50 and 10, -6.0, -0.90 are read as 216 and 72 mL/min is tested
    # on made traces in tests/thermo/test_continuous.py
    low = FlowEvidence(phase="rest", q_ml_min=72.0, pa_mmhg=95.0, pd_mmhg=92.0)
    high = FlowEvidence(phase="hyperaemia", q_ml_min=216.0, pa_mmhg=90.0, pd_mmhg=76.0)
    rows = indices(flows=(low, high))

    assert rows["cfr_continuous"].value == pytest.approx(3.00)
    assert rows["r_micro_hyper"].value == pytest.approx(351.9, abs=0.05)
    assert rows["r_micro_rest"].value == pytest.approx(1277.8, abs=0.05)
    # 3.00 / (76 / 90) * 95 / 90
    assert rows["mrr_continuous"].value == pytest.approx(3.75)


def test_collateral_index_crosses_its_line_when_venous_pressure_is_ignored():
    # Seiler 1998: (Pw - CVP) / (Pa - CVP); Pw 25, CVP 5, Pa 90
    assert collateral_flow_index.formula(25.0, 90.0, 5.0) == pytest.approx(0.235, abs=5e-4)
    assert collateral_flow_index.formula(25.0, 90.0, 0.0) == pytest.approx(0.278, abs=5e-4)


def test_gradient_index_of_a_mixed_pullback():
    # Collet 2019 (form from memory): drop 0.20 over 20 mm of 0.30 in all, 30 of 100 mm diseased
    assert pullback_gradient_index.formula(0.20, 0.30, 0.30) == pytest.approx(0.683, abs=5e-4)


def test_mrr_is_flow_reserve_over_ffr_with_the_pressures_of_both_states():
    # De Bruyne 2021: MRR = CFR/FFR * Pa_rest/Pa_hyper
    assert mrr_bolus.formula(0.99, 0.25, 95.0, 78.0) == pytest.approx(
        (0.99 / 0.25) / (78.0 / 90.0) * (95.0 / 90.0)
    )
    assert len(injections()) == 6


# Aarnoudse 2007, dogs: read = 0.73 true + 42, mL/min
@pytest.mark.parametrize(("true", "read"), [(100.0, 115.0), (150.0, 151.5), (250.0, 224.5)])
def test_the_published_line_of_continuous_flow_goes_both_ways(true, read):
    assert thermodilution_of_flow(true) == pytest.approx(read)
    assert flow_of_thermodilution(read) == pytest.approx(true)


def test_flow_by_the_published_line_stands_beside_the_flow_read():
    low = FlowEvidence(phase="rest", q_ml_min=115.0, pa_mmhg=95.0, pd_mmhg=92.0)

    assert indices(flows=(low,))["q_rest"].alternatives[BY_PROBE] == pytest.approx(100.0)


def test_both_methods_agree_on_the_pressure_term():
    # NL-CFT, 246 patients: continuous CFR 2.6 and MRR 3.1 need Pa rest / Pd hyper 1.19, bolus 3.5
    # and 4.2 need 1.20 (ratios of group means, +/-0.05)
    assert mrr_continuous.formula(2.6, 1.0, 1.19, 1.0) == pytest.approx(3.1, abs=0.05)
    assert mrr_bolus.formula(3.5, 1.0, 1.20, 1.0) == pytest.approx(4.2, abs=0.05)


@pytest.mark.parametrize(("q", "r_epicardial", "gradient"), [(293, 43, 12.6), (228, 83, 18.9)])
def test_a_gradient_over_a_flow_is_the_published_epicardial_resistance(q, r_epicardial, gradient):
    # Fournier 2021, group means: controls 293 mL/min and 43 WU, mild atheroma 228 and 83
    flow = FlowEvidence(
        phase="hyperaemia", q_ml_min=q, pa_mmhg=90.0, pd_mmhg=90.0 - gradient
    )  # fmt: skip
    shown = indices(flows=(flow,))["r_micro_hyper"].alternatives

    assert shown["R epicardial"] == pytest.approx(r_epicardial, abs=0.2)
    assert shown["R total"] == pytest.approx(1000.0 * 90.0 / q)


def test_one_vessel_prone_and_supine_agrees_once_the_height_is_taken_out():
    # Kawaguchi 2019, LAD: FFR 0.81 prone, 0.72 supine. Half of 0.09 is 3.6 to 4.5 mmHg at Pa 80 to
    # 100, 4.7 to 5.8 cm; Al-Janabi 2019 measured +5.26 cm (group means)
    def without_height(ratio, pa, height_cm):
        shown = height_reading(evidence(sheet=Sheet(sensor_height_cm=height_cm)), ratio * pa, pa)
        return next(iter(shown.values()))

    for pa, height_cm in ((80.0, 4.7), (100.0, 5.8)):
        assert without_height(0.72, pa, height_cm) - 0.72 == pytest.approx(0.045, abs=5e-4)
    supine, prone = without_height(0.72, 90.0, 5.26), without_height(0.81, 90.0, -5.26)
    assert supine == pytest.approx(prone, abs=0.005)


def test_the_ratio_of_a_state_is_of_means_not_the_mean_of_ratios():
    # arithmetic: Pa 80 and 120, Pd 60 and 108 -> 0.840; the mean of the ratios would be 0.825
    pa, pd = np.tile([80.0, 120.0], 4), np.tile([60.0, 108.0], 4)
    state = pressures_of(beats(pd, pa), np.ones(8, dtype=bool))

    assert indices(rest=state)["resting_pd_pa"].value == pytest.approx(0.840)


def test_a_shift_of_time_zero_by_a_twentieth_of_a_second_raises_flow_reserve_to_4_75():
    # arithmetic: 1.00 and 0.25 s read with time zero 0.05 s late
    rows = indices(injections=injections(rest=(1.00,) * 3, hyper=(0.25,) * 3, onset=-0.05))

    assert rows["cfr_bolus"].value == pytest.approx(4.00)
    assert rows["cfr_bolus"].alternatives["onset convention"] == pytest.approx(4.75)


# arithmetic of Pijls 1993; the need in Heart 1999;82:644
@pytest.mark.parametrize(("pv", "expected"), [(5.0, 0.688), (10.0, 0.667)])
def test_venous_pressure_lowers_ffr(pv, expected):
    low = Pressures(pa_mmhg=85.0, pd_mmhg=60.0)
    one = indices(plateau=low, sheet=Sheet(cvp_mmhg=pv))["ffr"]

    assert one.value == pytest.approx(0.706, abs=5e-4)
    assert one.alternatives["(Pd-Pv)/(Pa-Pv)"] == pytest.approx(expected, abs=5e-4)


def test_an_error_of_pas_zero_is_in_both_pressures_and_is_shown():
    # arithmetic: Pa 90 and Pd 72 read 3 mmHg too high are 87 and 69: 0.800 becomes 0.793
    low = Pressures(pa_mmhg=90.0, pd_mmhg=72.0)
    seen = indices(plateau=low, rest=low, pa_zero_mmhg=3.0)
    small = indices(plateau=low, pa_zero_mmhg=0.3)["ffr"]

    for key in ("ffr", "resting_pd_pa"):
        other = seen[key].alternatives["Pa zero of +3.0 mmHg taken out"]
        assert other == pytest.approx(69.0 / 87.0)
    assert not any("zero" in name for name in small.alternatives)


@pytest.mark.parametrize(("gap", "expected"), [(-10.0, 72.0 / 80.0), (-1.5, 62.0 / 80.0)])
def test_a_wire_that_did_not_take_over_pas_zero_keeps_its_own(gap, expected):
    # arithmetic: Pa 90 reads 10 mmHg too high; equalised 10 mmHg below it Pd 72 is true, set equal
    # (within the line) it carries the error too
    low = Pressures(pa_mmhg=90.0, pd_mmhg=72.0)
    start = Offset(state="off", offset_mmhg=gap, sd_mmhg=0.15, time_s=40.0)
    rows = indices(plateau=low, pa_zero_mmhg=10.0, equalisation=start)
    (other,) = [v for k, v in rows["ffr"].alternatives.items() if k.startswith("Pa zero of +10.0")]

    assert other == pytest.approx(expected)


def test_an_offset_taken_off_at_rest_is_not_taken_off_again_with_the_zero():
    # by hand: (80 + 10 - 10) / (100 - 10) with the offset off once
    rest = Pressures(pa_mmhg=100.0, pd_mmhg=80.0, middle_s=100.0)
    both = [Offset(state="off", offset_mmhg=-10.0, time_s=t) for t in (40.0, 300.0)]
    rows = indices(rest=rest, pa_zero_mmhg=10.0, equalisation=both[0], drift=both[1])
    (other,) = [v for k, v in rows["resting_pd_pa"].alternatives.items() if "zero" in k]

    assert rows["resting_pd_pa"].value == pytest.approx(0.90)
    assert other == pytest.approx(80.0 / 90.0)
