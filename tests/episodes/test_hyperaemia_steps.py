"""A part of the effect that is gone from one beat to the next was a gauge, not the drug."""

import numpy as np
import pytest

from arteriole.episodes.hyperaemia_course import fit_course
from arteriole.episodes.hyperaemia_steps import lost_at_once, mended
from arteriole.episodes.trend import Trend

from .courses import END_S, FIRST_S, FROM_S, HYPER_S, arrival, beats, trend


def lost(whole: Trend) -> float | None:
    course = fit_course(whole, FROM_S, FIRST_S)
    assert course is not None
    return lost_at_once(whole, course, HYPER_S, END_S)


@pytest.mark.parametrize("at", [130.0, 145.0])
def test_a_jump_of_pd_is_found_also_beneath_an_injection(at: float) -> None:
    t = beats()
    whole = trend(arrival(t), t)
    whole.ratio[t > at] += 0.05
    got = lost(whole)
    assert got is not None
    assert got == pytest.approx(at, abs=4.0)


def test_a_drug_that_stops_is_no_jump() -> None:
    t = beats()
    assert lost(trend(arrival(t) * (1.0 - arrival(t, 182.0, 10.0)), t)) is None


def test_what_an_injection_opened_and_lost_again_is_no_jump() -> None:
    t = beats()
    effect = 0.5 * arrival(t)
    for at in HYPER_S:
        effect[(t > at + 2.0) & (t < at + 9.0)] += 0.3
    assert lost(trend(effect, t)) is None


def test_a_mended_trend_is_level_across_its_step() -> None:
    t = beats()
    whole = trend(np.ones(t.size), t)
    stepped = trend(np.ones(t.size), t)
    stepped.ratio[t > 130.0] += 0.05
    stepped.shape_mmhg[t > 130.0] -= 1.0
    got = mended(stepped, [130.5])
    assert np.median(np.abs(got.ratio - whole.ratio)) < 0.002
    assert np.median(np.abs(got.shape_mmhg - whole.shape_mmhg)) < 0.06
    assert mended(whole, []) is whole
