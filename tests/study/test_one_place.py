"""Hyperaemia is read on one side of a slip of the wire: the two are two places in the artery."""

import pytest

from arteriole.recording import Finding, Settings
from arteriole.simulate import drawn_session
from arteriole.study import decide, measure
from arteriole.study.context import with_side
from arteriole.study.gauges import Windows, place_held, windows_within

WINDOWS: Windows = ((100.0, 110.0), (114.0, 120.0), (125.0, 150.0))


def read_at(*moved: tuple[float, float]) -> Windows:
    return windows_within(WINDOWS, place_held(WINDOWS, moved))


def test_windows_are_cut_before_the_slip_where_enough_lies_before_it() -> None:
    assert read_at((130.0, 130.8)) == (*WINDOWS[:2], (125.0, 128.5))
    assert read_at((130.0, 130.8), (116.0, 116.8)) == ((100.0, 110.0), (114.0, 114.5))


def test_what_lies_after_it_is_read_where_little_lies_before() -> None:
    assert read_at((104.0, 105.0)) == ((105.0, 110.0), *WINDOWS[1:])


def test_of_parts_that_are_all_short_the_longest_is_read() -> None:
    short = ((100.0, 109.0),)
    assert windows_within(short, place_held(short, [(108.0, 108.9)])) == ((100.0, 106.5),)
    assert windows_within(short, place_held(short, [(101.0, 102.0)])) == ((102.0, 109.0),)


def test_a_slip_elsewhere_leaves_the_windows_however_short_they_are() -> None:
    for moved in ([], [(90.0, 91.0)], [(160.0, 161.0)]):
        assert windows_within(WINDOWS, place_held(WINDOWS, moved)) == WINDOWS
        short = ((100.0, 104.0),)
        assert windows_within(short, place_held(short, moved)) == short
    assert windows_within((), place_held((), [(100.0, 101.0)])) == ()


def test_a_slip_over_lost_beats_leaves_none_of_them_on_either_side() -> None:
    assert read_at((119.0, 130.0)) == ((100.0, 110.0), (114.0, 117.5))


@pytest.mark.parametrize(
    ("moved", "said"),
    [
        pytest.param((130.0, 130.8), "Hyperaemia is read before it.", id="late"),
        pytest.param((104.0, 104.8), "Hyperaemia is read after it.", id="early"),
        pytest.param((90.0, 90.8), "", id="before hyperaemia"),
    ],
)
def test_the_finding_says_on_which_side_hyperaemia_is_read(
    moved: tuple[float, float], said: str
) -> None:
    finding = Finding(
        code="ratio_step", severity="caution", channel="pd", start_s=moved[0], end_s=moved[1],
        message="Pd/Pa steps.", do="Look.",
    )  # fmt: skip
    place = place_held(WINDOWS, [moved])
    told = with_side(finding, [moved], WINDOWS, place, drawn_back=False).do
    assert told == f"Look. {said}".strip()


@pytest.mark.parametrize("seed", [24359, 21603])
def test_ffr_after_a_slip_is_that_of_the_first_place(seed: int) -> None:
    """SIMULATED: the truth knows FFR where the wire lay first and where it lay last."""
    made = drawn_session(seed)
    result = decide(measure(made.recording, Settings()), made.sheet, (), Settings(), "default", "0")
    (slip,) = [f for f in result.findings if f.code == "ratio_step" and f.severity != "note"]
    assert "Hyperaemia is read before it; the pullback starts" in slip.do
    truth = made.truth["indices"]
    first, last = truth["ffr_original_site"], truth["ffr"]
    assert abs(last - first) > 0.012
    value = next(i.value for i in result.indices if i.key == "ffr_plateau_drift_corrected")
    assert value == pytest.approx(first, abs=0.004)
