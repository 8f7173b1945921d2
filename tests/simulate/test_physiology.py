"""Virtual patients lie where measured ones do. Every range names where it comes from."""

import numpy as np
import pytest

from arteriole.simulate import circulation as c
from arteriole.simulate import drug, heart, session
from arteriole.simulate.acts import Adenosine, Flush, Inject
from arteriole.simulate.patient import Patient

SEEDS = range(200, 218)


@pytest.fixture(scope="module")
def normals():
    return [session("normal", seed, rate_hz=200.0).truth for seed in SEEDS]


def values(truths, *path):
    rows = []
    for tree in truths:
        node = tree
        for key in path:
            node = node[key]
        rows.append(node)
    return np.array(rows)


def test_resting_flow(normals):
    # Resting flow of one artery about 60-100 mL/min: hyperaemic 293 over CFR 2.6-3.4;
    # [Fournier2021] [Gallinoro2021], and common practice.
    q = values(normals, "states", "rest", "q_ml_min")

    assert 55.0 < q.mean() < 100.0
    assert q.min() > 35.0
    assert q.max() < 160.0


def test_hyperaemic_flow(normals):
    # LAD of controls 293 +/- 102 mL/min, mild atheroma 228 +/- 71; [Fournier2021]
    q = values(normals, "states", "hyper", "q_ml_min")

    assert 228.0 - 71.0 < q.mean() < 293.0 + 102.0


def test_transit_times(normals):
    # Usual values with open arteries: about 1 s at rest, 0.2 to 0.3 s in hyperaemia; from memory.
    rest, hyper = (values(normals, "indices", k) for k in ("tmn_rest", "tmn_hyper"))

    assert 0.5 < rest.mean() < 1.2
    assert 0.15 < hyper.mean() < 0.35


def test_reserve_of_the_healthy(normals):
    # Thermodilution CFR of patients without disease, about 3 to 5; from memory.
    assert 2.8 < values(normals, "indices", "cfr").mean() < 5.0


def test_index_of_resistance_of_the_healthy(normals):
    # Controls: median 12.6, 95 % reference 7.3-27.2, [Solberg2014]; registry median 16.6
    # (12.4-23.0), [Lee2015].
    imr = values(normals, "indices", "imr")

    assert 12.4 < np.median(imr) < 23.0
    assert np.mean((imr > 7.3) & (imr < 27.2)) > 0.9


def test_open_arteries_have_no_gradient(normals):
    # FFR of a normal artery at or above 0.94, resting Pd/Pa near 1.00; common practice, no source.
    assert np.median(values(normals, "indices", "ffr")) > 0.94
    assert np.median(values(normals, "indices", "resting_pdpa")) > 0.97


def test_flow_is_diastolic_in_the_left_artery_and_less_so_in_the_right(normals):
    # Diastolic over systolic velocity near 2 in the LAD and 1.2-1.5 in the RCA; [Ofili1993],
    # from memory.
    ratio = values(normals, "states", "rest", "q_dia_sys_ratio")
    vessel = np.array([t["vessel"] for t in normals])

    assert 1.4 < ratio[vessel == "LAD"].mean() < 3.0
    assert 0.9 < ratio[vessel == "RCA"].mean() < 1.7


def test_structural_disease_raises_resistance_and_functional_raises_resting_flow(normals):
    structural = [session("structural", s, rate_hz=200.0).truth for s in (1, 2, 3, 4)]
    functional = [session("functional", s, rate_hz=200.0).truth for s in (1, 2, 3, 4)]
    normal = values(normals, "indices", "imr").mean()

    assert values(structural, "indices", "imr").mean() > 1.5 * normal
    assert values(functional, "indices", "imr").mean() < 1.3 * normal
    # Low baseline resistance goes with high resting flow.
    baseline = values(normals, "indices", "baseline_resistance_index").mean()
    assert values(functional, "indices", "baseline_resistance_index").mean() < 0.7 * baseline


def effect(act):
    t = np.arange(0.0, 240.0, 0.01)
    zero = np.zeros_like(t)
    level, _ = drug.dilation(
        Patient(), (act,), t, 100.0, state=np.zeros(drug.STATES), wobble=zero, waves=zero + 1.0
    )
    return t, level


def flow_at(dilation):
    p = Patient()
    settled = heart.circuit(p)
    out, _ = heart.trial(
        p, settled.constants, settled.state, settled.shape, 16.0, dilation=dilation
    )
    return heart.whole_beats(p, out)[:, c.OUT_MEANFLOW].mean()


def test_one_dose_into_the_artery_stands_about_twenty_seconds():
    # Plateau 21 +/- 6 s (left), 12 +/- 13 s (right); [Adjedj2015]
    _, level = effect(Adenosine(start_s=10.0, end_s=11.0, route="intracoronary"))

    assert 12.0 < np.count_nonzero(level > 0.9) / 100.0 < 27.0


def test_contrast_reaches_about_two_thirds_of_the_flow():
    # 8 mL of contrast reach 65 % of adenosine flow; [Adjedj2015]
    _, level = effect(Flush(start_s=10.0, end_s=13.0, agent="contrast", volume_ml=8.0))

    assert flow_at(level.max()) / flow_at(1.0) == pytest.approx(0.65, abs=0.07)


def test_a_cold_bolus_hardly_dilates_and_is_over_before_the_next():
    act = Inject(
        start_s=10.0, end_s=10.6, state="rest", index=1, volume_ml=3.0, pieces=((10.0, 10.6, 1.0),)
    )
    t, level = effect(act)

    assert 0.01 < level.max() < 0.15
    assert level[np.searchsorted(t, 27.0)] < 0.01


def test_saline_at_twenty_dilates_and_at_ten_does_not():
    # [Gallinoro2021]
    truth = session("normal", 3, rate_hz=200.0, continuous=True).truth
    rest, hyper = truth["continuous"]["rest"], truth["continuous"]["hyper"]

    assert rest["q_true_ml_min"] == pytest.approx(truth["states"]["rest"]["q_ml_min"], rel=0.08)
    assert hyper["q_true_ml_min"] > 0.85 * truth["states"]["hyper"]["q_ml_min"]


def test_adenosine_lowers_the_aortic_pressure_and_raises_the_rate(normals):
    pa = values(normals, "states", "hyper", "pa") / values(normals, "states", "rest", "pa")
    rate = values(normals, "states", "hyper", "hr") / values(normals, "states", "rest", "hr")

    assert 0.8 < pa.mean() < 1.0
    assert 1.0 < rate.mean() < 1.2
