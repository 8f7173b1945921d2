"""The gradient index: bounds, no side at rest, and why there is none."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.indices import Evidence, PullbackEvidence, compute, pullback_gradient_index
from arteriole.indices.quantity import Quantity

PULL = PullbackEvidence(
    state="hyperaemia", drop=0.30, drop_sd=0.005, start_s=330.0, end_s=356.0, gradient_index=0.95,
    gradient_index_sd=0.09, max_drop_20mm=0.29, diseased_share=0.07,
)  # fmt: skip


def made(pull: PullbackEvidence, key: str = "pullback_gradient_index"):
    return next(i for i in compute(Evidence(pullback=pull)) if i.key == key)


def test_the_interval_stays_between_0_and_1() -> None:
    high = made(PULL)
    assert high.value == 0.95
    assert high.interval95[1] == pytest.approx(1.0)
    low = made(replace(PULL, gradient_index=0.05))
    assert low.interval95[0] == pytest.approx(0.0)
    typed = pullback_gradient_index.within(
        Quantity(value=0.9, parts={"typed": np.array([-0.95, 0.05, 0.3])})
    )
    assert typed.draws() == pytest.approx([0.0, 0.95, 1.0])


def test_at_rest_there_is_no_side() -> None:
    rest = made(replace(PULL, state="rest"))
    assert rest.value == 0.95
    assert rest.certainty == "cannot say"
    assert {c.side for c in rest.cutoffs} == {None}
    assert "made in hyperaemia" in rest.note
    assert {c.side for c in made(PULL).cutoffs} == {"above"}


def test_why_there_is_none_is_told_apart() -> None:
    none = replace(PULL, drop=0.004, gradient_index=None, gradient_index_sd=None)
    assert "0.00 along the pullback" in made(none).withheld.reason
    assert "length_mm" not in made(none).withheld.do
    assert "length_mm" in made(replace(none, place_known=False)).withheld.do


def test_what_the_gauges_moved_lies_on_one_side_of_the_drop() -> None:
    still = made(PULL, "pullback_drop")
    moved = made(replace(PULL, drop_beyond=(0.0, 0.06)), "pullback_drop")
    assert moved.value == still.value
    assert moved.interval95[0] == pytest.approx(still.interval95[0], abs=0.004)
    assert 0.36 < moved.interval95[1] < 0.375
