"""Hyperaemia is read on one side of a slip of the wire: the two are two places in the artery."""

import pytest

from arteriole.recording import Settings
from arteriole.simulate import drawn_session
from arteriole.study import decide, measure
from arteriole.study.gauges import at_one_site

WINDOWS = ((100.0, 110.0), (114.0, 120.0), (125.0, 150.0))


def test_windows_are_cut_before_the_slip_where_enough_lies_before_it() -> None:
    assert at_one_site(WINDOWS, [130.0]) == (*WINDOWS[:2], (125.0, 128.5))
    assert at_one_site(WINDOWS, [130.0, 116.0]) == ((100.0, 110.0), (114.0, 114.5))


def test_what_lies_after_it_is_read_where_little_lies_before() -> None:
    assert at_one_site(WINDOWS, [104.0]) == ((104.0, 110.0), *WINDOWS[1:])


def test_a_slip_outside_leaves_the_windows() -> None:
    assert at_one_site(WINDOWS, [90.0]) == WINDOWS
    assert at_one_site(WINDOWS, [160.0]) == WINDOWS
    assert at_one_site(WINDOWS, []) == WINDOWS
    assert at_one_site((), [100.0]) == ()


@pytest.mark.parametrize("seed", [24359, 21603])
def test_ffr_after_a_slip_is_that_of_the_first_place(seed: int) -> None:
    """SIMULATED: the truth knows FFR where the wire lay first and where it lay last."""
    made = drawn_session(seed)
    result = decide(measure(made.recording, Settings()), made.sheet, (), Settings(), "default", "0")
    (slip,) = [f for f in result.findings if f.code == "ratio_step" and f.severity != "note"]
    assert slip.do.endswith("Hyperaemia is read before it.")
    truth = made.truth["indices"]
    first, last = truth["ffr_original_site"], truth["ffr"]
    assert abs(last - first) > 0.012
    value = next(i.value for i in result.indices if i.key == "ffr_plateau_drift_corrected")
    assert value == pytest.approx(first, abs=0.004)
