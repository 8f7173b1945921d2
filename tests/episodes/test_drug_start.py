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
