"""Hyperaemia that was not even widens what its plateau says, and nothing else."""

import pytest

from arteriole.episodes import Hyperaemia
from arteriole.indices import Pressures
from arteriole.study.gauges import widened

PLATEAU = Pressures(pa_mmhg=90.0, pd_mmhg=70.0, ratio_sd={"pd_pa": 0.003, "diastolic_ratio": 0.01})


@pytest.mark.parametrize("fault", ["unsteady", "submaximal"])
def test_an_uneven_plateau_is_known_no_better_than_it_swings(fault: str) -> None:
    seen = Hyperaemia(state="steady", range_ratio=0.016, **{fault: True})  # type: ignore[arg-type]
    got = widened(PLATEAU, seen)
    assert got is not None
    assert got.ratio_sd["pd_pa"] == pytest.approx(0.005)
    assert got.ratio_sd["diastolic_ratio"] == 0.01
    assert (got.pa_mmhg, got.pd_mmhg) == (90.0, 70.0)


def test_an_even_plateau_stays_as_it_was() -> None:
    assert widened(PLATEAU, Hyperaemia(state="steady", range_ratio=0.016)) is PLATEAU
    assert widened(None, Hyperaemia(state="not reached", unsteady=True)) is None
