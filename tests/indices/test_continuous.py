"""Continuous indices: intervals by first order and by draws, and what they share."""

import pytest
from uncertainties import ufloat

from arteriole.indices import FlowEvidence
from arteriole.recording import Settings
from indices.cases import indices

REST = {"mixed temperature": 2.0, "heat ratio": 0.72, "pump": 0.72, "mixing": 1.08}
HYPER = {"mixed temperature": 6.0, "heat ratio": 2.16, "pump": 2.16, "mixing": 3.24}


def flows(rest=REST, hyper=HYPER, **more):
    return (
        FlowEvidence(phase="rest", q_ml_min=72.0, sd_ml_min=rest, pa_mmhg=95.0, pd_mmhg=92.0,
                     infusion_ml_min=10.0, t_c=-0.9, ti_c=-6.0, start_s=10.0, end_s=25.0, **more),
        FlowEvidence(phase="hyperaemia", q_ml_min=216.0, sd_ml_min=hyper, pa_mmhg=90.0,
                     pd_mmhg=76.0, infusion_ml_min=20.0, t_c=-0.5, ti_c=-5.0, start_s=60.0,
                     end_s=75.0, **more),
    )  # fmt: skip


def half(one) -> float:
    low, high = one.interval95
    return (high - low) / 2.0 / 1.96


def given(**changed):
    return indices(flows=flows(**changed), settings=Settings(draws=20_000))


def test_the_exact_values_of_the_formulas() -> None:
    # Exact arithmetic: Q 216 and 72, CFR 3.00; Pd 76 and 92 give 351.9 and 1277.8 Wood units;
    # Pa at rest 95 gives MRR 3.75 [DeBruyne2021].
    rows = given()
    assert rows["cfr_continuous"].value == pytest.approx(3.0)
    assert rows["r_micro_hyper"].value == pytest.approx(351.85, abs=0.01)
    assert rows["r_micro_rest"].value == pytest.approx(1277.78, abs=0.01)
    assert rows["mrr_continuous"].value == pytest.approx(3.75)


def test_flow_is_as_doubtful_as_its_sources_together() -> None:
    # [JCGM100] 5.1.2: variances of independent inputs add; the uncertainties package agrees.
    said = 72.0 + sum(ufloat(0.0, sd) for sd in REST.values())
    assert half(given()["q_rest"]) == pytest.approx(said.std_dev, rel=0.03)


def test_one_pump_and_one_heat_ratio_cancel_in_the_reserve() -> None:
    # First order by the uncertainties package, with heat ratio and pump as the same variables.
    pump, heat = ufloat(1.0, 0.01), ufloat(1.0, 0.01)
    q_rest = (72.0 + ufloat(0.0, 2.0) + ufloat(0.0, 1.08)) * pump * heat
    q_hyper = (216.0 + ufloat(0.0, 6.0) + ufloat(0.0, 3.24)) * pump * heat
    said = q_hyper / q_rest
    assert said.nominal_value == pytest.approx(3.0)
    assert half(given()["cfr_continuous"]) == pytest.approx(said.std_dev, rel=0.03)


def test_resistance_carries_flow_and_pressure() -> None:
    # R = 1000 Pd / Q to first order; the pressure's share is that of ground.py: transducer zero
    # 1 mmHg, spread 0.5 % of Pa, unchecked drift 2.2 % of Pa.
    pd = 76.0 + ufloat(0.0, 1.0) + ufloat(0.0, 0.45) + ufloat(0.0, 1.98)
    q = 216.0 + sum(ufloat(0.0, sd) for sd in HYPER.values())
    said = 1000.0 * pd / q
    assert half(given()["r_micro_hyper"]) == pytest.approx(said.std_dev, rel=0.05)


def test_shares_name_the_sources_and_sum_to_one() -> None:
    one = given()["q_hyper"]
    assert set(one.shares) == set(HYPER)
    assert sum(one.shares.values()) == pytest.approx(1.0)


def test_q_shows_what_the_plain_mean_over_time_gives() -> None:
    one = given(q_plain_ml_min=75.0)["q_rest"]
    assert one.alternatives["T as a plain mean over time"] == pytest.approx(75.0)
    assert "Seligman2022" in one.note


def test_continuous_and_bolus_share_no_line() -> None:
    rows = given()
    continuous = {(c.name, c.value) for k in ("cfr_continuous", "mrr_continuous", "r_micro_hyper")
                  for c in rows[k].cutoffs if not c.note.startswith("no side")}  # fmt: skip
    bolus = {(c.name, c.value) for k in ("cfr_bolus", "mrr_bolus", "imr", "rrr")
             for c in rows[k].cutoffs}  # fmt: skip
    assert not continuous & bolus
    assert rows["cfr_continuous"].cutoffs == ()
    assert all(rows[k].method == "continuous" for k in rows if "continuous" in k)
