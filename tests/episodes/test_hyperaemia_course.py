"""The arrival of a drug is timed by four rows at once."""

import numpy as np
import pytest

from arteriole.episodes.hyperaemia_course import RATIO, WAVE, effect, fit_course
from arteriole.episodes.hyperaemia_doubt import SEEN_GAIN

from .courses import FIRST_S, FROM_S, REST_S, arrival, beats, trend


@pytest.mark.parametrize(("mid", "width"), [(90.0, 15.0), (95.0, 20.0), (105.0, 30.0)])
def test_middle_and_width_are_found(mid: float, width: float) -> None:
    t = beats()
    got = fit_course(trend(arrival(t, mid, width), t), FROM_S, FIRST_S, REST_S)
    assert got is not None
    assert got.mid_s == pytest.approx(mid, abs=1.5)
    assert got.width_s == pytest.approx(width, abs=5.0)
    assert got.at(0.5) == got.mid_s
    assert got.at(0.9) - got.at(0.1) == pytest.approx(got.width_s)


def test_an_open_vessel_is_timed_by_pressure_and_rate() -> None:
    t = beats()
    got = fit_course(trend(arrival(t), t, fall=0.0), FROM_S, FIRST_S, REST_S)
    assert got is not None
    assert got.gain > SEEN_GAIN
    assert got.mid_s == pytest.approx(95.0, abs=4.0)


@pytest.mark.parametrize("seed", range(6))
def test_without_a_drug_nothing_is_seen(seed: int) -> None:
    t = beats()
    got = fit_course(trend(np.zeros(t.size), t, seed=seed), FROM_S, FIRST_S, REST_S)
    assert got is None or got.gain < SEEN_GAIN


def test_the_effect_is_nought_at_rest_and_one_on_the_plateau() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    got = fit_course(whole, FROM_S, FIRST_S, REST_S)
    assert got is not None
    row = effect(whole, got, (RATIO, WAVE))
    assert row is not None
    assert float(np.median(row[t < 70.0])) == pytest.approx(0.0, abs=0.03)
    assert float(np.median(row[t > 130.0])) == pytest.approx(1.0, abs=0.03)


def test_an_offset_of_the_gauge_changes_no_time() -> None:
    t = beats()
    plain = trend(arrival(t), t)
    a = fit_course(plain, FROM_S, FIRST_S, REST_S)
    shifted = trend(arrival(t), t)
    object.__setattr__(shifted, "ratio", shifted.ratio - 0.05)
    b = fit_course(shifted, FROM_S, FIRST_S, REST_S)
    assert a is not None
    assert b is not None
    assert (a.mid_s, a.width_s) == (b.mid_s, b.width_s)


def test_too_few_beats_give_no_course() -> None:
    t = beats()[::9]
    assert fit_course(trend(arrival(t), t), FROM_S, FIRST_S, REST_S) is None


def test_a_row_that_is_mostly_unknown_says_nothing_and_spoils_nothing() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    whole.shape_mmhg[::2] = np.nan
    got = fit_course(whole, FROM_S, FIRST_S, REST_S)
    assert got is not None
    assert got.fall[WAVE] == 0.0
    assert got.mid_s == pytest.approx(95.0, abs=1.5)
