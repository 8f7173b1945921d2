"""Hyperaemia that was not even widens every reading taken in it, and nothing else."""

import pytest

from arteriole.episodes import Hyperaemia
from arteriole.indices import Evidence, Pressures, compute
from arteriole.study.gauges import uneven_sd

REST = Pressures(pa_mmhg=90.0, pd_mmhg=84.6)
PLATEAU = Pressures(pa_mmhg=90.0, pd_mmhg=74.7, ratio_sd={"pd_pa": 0.003})


@pytest.mark.parametrize("fault", ["unsteady", "submaximal"])
def test_a_quarter_of_the_swing_is_one_standard_deviation(fault: str) -> None:
    seen = Hyperaemia(state="steady", range_ratio=0.016, **{fault: True})  # type: ignore[arg-type]
    assert uneven_sd(seen) == pytest.approx(0.004)


def test_an_even_plateau_adds_nothing() -> None:
    assert uneven_sd(Hyperaemia(state="steady", range_ratio=0.016)) == 0.0
    assert uneven_sd(Hyperaemia(state="not reached", unsteady=True)) == 0.0


def test_the_interval_of_ffr_widens_by_it() -> None:
    def wide(sd: float) -> float:
        (ffr,) = compute(Evidence(plateau=PLATEAU, uneven_sd=sd, seed=7), {"ffr"})
        assert ffr.interval95 is not None
        return ffr.interval95[1] - ffr.interval95[0]

    assert wide(0.03) > 1.5 * wide(0.0)


@pytest.mark.parametrize(("ffr", "undone"), [(0.83, True), (0.92, False), (0.70, False)])
def test_without_full_hyperaemia_a_side_that_twice_the_effect_undoes_is_none(
    ffr: float, undone: bool
) -> None:
    pressures = Pressures(pa_mmhg=90.0, pd_mmhg=90.0 * ffr, ratio_sd={"pd_pa": 0.002})
    rest = Pressures(pa_mmhg=90.0, pd_mmhg=90.0 * min(0.96, ffr + 0.11))
    evidence = Evidence(rest=rest, plateau=pressures, typed={"cfr_bolus": (1.7, 0.05)},
                        not_full=True)  # fmt: skip
    rows = {i.key: i for i in compute(evidence, {"ffr", "cfr_bolus", "resting_pd_pa"})}
    assert rows["ffr"].value == pytest.approx(ffr)
    assert "at most this" in rows["ffr"].note
    assert (rows["ffr"].certainty == "cannot say") is undone
    assert rows["cfr_bolus"].certainty == "cannot say"
    assert "at least this" in rows["cfr_bolus"].note
    assert "full" not in rows["resting_pd_pa"].note


def test_a_drug_of_which_nothing_shows_leaves_no_side_that_more_could_undo() -> None:
    # the drug may not have come at all: twice nothing would tell nothing
    alike = Pressures(pa_mmhg=90.0, pd_mmhg=84.6, ratio_sd={"pd_pa": 0.002})
    evidence = Evidence(rest=alike, plateau=alike, not_full=True,
                        typed={"cfr_bolus": (1.08, 0.02), "imr": (83.8, 1.0)})  # fmt: skip
    rows = {i.key: i for i in compute(evidence, {"ffr", "cfr_bolus", "imr"})}
    assert {k: i.certainty for k, i in rows.items()} == dict.fromkeys(
        ("ffr", "cfr_bolus", "imr"), "cannot say"
    )
