"""Rest that is not proven: the value stays, the interval widens, no side is clear."""

from dataclasses import replace

import pytest

from arteriole.indices import Evidence, Index, Pressures, Unrest, compute
from arteriole.indices.unproven import most_at_rest

RAISED = Unrest(raised=True, told="begins 9 s after a flush (line: 25 s)")


def resting(ratio: float, unrest: Unrest | None, key: str = "resting_pd_pa") -> Index:
    rest = Pressures(
        pa_mmhg=90.0, pd_mmhg=90.0 * ratio, ratio_sd={"pd_pa": 0.001},
        ratios={"diastolic_ratio": ratio - 0.05}, window_pa_mmhg={"diastolic_ratio": 75.0},
    )  # fmt: skip
    (index,) = compute(Evidence(rest=rest, unrest=unrest, seed=7), {key})
    return index


def ends(index: Index) -> tuple[float, float]:
    assert index.interval95 is not None
    return index.interval95


@pytest.mark.parametrize("key", ["resting_pd_pa", "diastolic_ratio"])
def test_raised_flow_widens_upward_only(key: str) -> None:
    plain, open_ = resting(0.80, None, key), resting(0.80, RAISED, key)
    assert open_.value == plain.value
    assert ends(open_)[1] > ends(plain)[1] + 0.01
    assert ends(open_)[0] >= ends(plain)[0]


def test_at_most_three_tenths_of_the_loss_are_due_to_it() -> None:
    # by hand: 0.80 + 0.3 * 0.20
    assert most_at_rest(0.80) == pytest.approx(0.86)
    assert most_at_rest(1.02) == 1.02


def test_a_drift_widens_both_ways_by_half_of_it() -> None:
    plain = resting(0.80, None)
    moved = resting(0.80, Unrest(raised=False, drift=-0.2, told="is not still"))
    for k, sign in ((0, -1.0), (1, 1.0)):
        assert sign * (ends(moved)[k] - ends(plain)[k]) > 0.02
    assert moved.value == plain.value


@pytest.mark.parametrize(("ratio", "certainty"), [
    (0.99, "near the line"), (0.70, "near the line"), (0.89, "cannot say"),
])  # fmt: skip
def test_a_side_is_never_clear_and_none_where_rest_could_undo_it(
    ratio: float, certainty: str
) -> None:
    index = resting(ratio, RAISED)
    assert index.certainty == certainty
    assert "begins 9 s after a flush" in index.note


def test_flow_reserve_keeps_its_numbers_and_says_it() -> None:
    given = Evidence(typed={"cfr_bolus": (2.5, 0.2)}, seed=7)
    (typed,) = compute(replace(given, unrest=RAISED), {"cfr_bolus"})
    assert "not proven" not in typed.note  # as typed from an old report
