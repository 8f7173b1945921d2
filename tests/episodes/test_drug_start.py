"""Building begins where the sheet says the drug was started."""

import pytest

from arteriole.episodes.drug_start import with_drug_start
from arteriole.episodes.hyperaemia import Stretch

BUILDING = Stretch(start_s=215.0, end_s=240.0, state="building")
STEADY = Stretch(start_s=240.0, end_s=330.0, state="steady")


def test_building_reaches_back_to_the_drugs_start() -> None:
    line = with_drug_start((BUILDING, STEADY), 200.0)
    assert line == (Stretch(start_s=200.0, end_s=240.0, state="building"), STEADY)


def test_a_line_without_building_gains_one() -> None:
    line = with_drug_start((STEADY,), 200.0)
    assert line == (Stretch(start_s=200.0, end_s=240.0, state="building"), STEADY)


@pytest.mark.parametrize("start_s", [None, 216.0, 300.0, 20.0])
def test_a_start_that_cannot_be_this_runs_changes_nothing(start_s: float | None) -> None:
    assert with_drug_start((BUILDING, STEADY), start_s) == (BUILDING, STEADY)


def test_no_hyperaemia_stays_none() -> None:
    assert with_drug_start((), 200.0) == ()


@pytest.mark.parametrize("route", ["intravenous", "IV", " i.v. "])
def test_a_drug_by_vein_was_started_before_its_effect_showed(route: str) -> None:
    line = with_drug_start((BUILDING, STEADY), None, route)
    assert line == (Stretch(start_s=202.0, end_s=240.0, state="building"), STEADY)


@pytest.mark.parametrize("route", [None, "", "intracoronary"])
def test_by_another_way_nothing_is_assumed(route: str | None) -> None:
    assert with_drug_start((BUILDING, STEADY), None, route) == (BUILDING, STEADY)


def test_a_start_on_the_sheet_stands_above_the_usual_one() -> None:
    assert with_drug_start((BUILDING, STEADY), 190.0, "intravenous")[0].start_s == 190.0


def test_hyperaemia_that_was_not_reached_is_not_called_building() -> None:
    missed = Stretch(start_s=215.0, end_s=330.0, state="not reached")
    line = with_drug_start((missed,), 200.0)
    assert line == (Stretch(start_s=200.0, end_s=330.0, state="not reached"),)
