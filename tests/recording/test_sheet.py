"""What a sheet says by itself."""

import pytest

from arteriole.recording import Sheet


@pytest.mark.parametrize(
    ("vessel", "right"),
    [("RCA", True), ("rca prox", True), (" Right coronary", True), ("RPDA", True),
     ("LAD", False), ("LCx", False), ("Ramus", False), (None, False)],
)  # fmt: skip
def test_the_right_artery_is_known_by_its_name(vessel, right):
    # names of vessels: common practice, no source; a ramus is a branch of the left artery
    assert Sheet(vessel=vessel).right_artery is right
