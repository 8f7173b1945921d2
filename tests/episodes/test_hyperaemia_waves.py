"""Waves of the drug move all rows in step; what moves one row alone is none."""

import numpy as np

from arteriole.episodes.hyperaemia_course import Course, fit_course
from arteriole.episodes.hyperaemia_waves import Waves, means_of, noise_of, waves_in
from arteriole.episodes.trend import Trend

from .courses import FIRST_S, FROM_S, arrival, beats, trend


def course_of(whole: Trend) -> Course:
    got = fit_course(whole, FROM_S, FIRST_S)
    assert got is not None
    return got


def likelier(whole: Trend) -> Waves:
    got = waves_in(whole, course_of(whole), (whole.time_s > 115.0) & (whole.time_s < 195.0))
    assert got is not None
    return got


def test_an_even_plateau_speaks_against_waves() -> None:
    t = beats()
    got = likelier(trend(arrival(t), t))
    assert max(got.any, got.regular) < 0.0


def test_an_effect_that_comes_and_goes_in_every_row_speaks_for_waves() -> None:
    t = beats()
    waves = 1.0 - 0.15 * (1.0 + np.sin(2.0 * np.pi * t / 40.0))
    assert likelier(trend(arrival(t) * waves, t)).any > 5.0


def test_waves_of_one_period_are_told_from_one_slow_change() -> None:
    t = beats()
    regular = likelier(trend(arrival(t) * (1.0 - 0.12 * np.sin(2.0 * np.pi * t / 22.0)), t))
    slow = likelier(trend(arrival(t) * (1.0 - 0.12 * np.tanh((t - 155.0) / 15.0)), t))
    assert regular.regular > regular.any + 3.0
    assert abs(regular.period_s - 22.0) < 2.5
    assert slow.any > slow.regular


def test_a_gauge_that_drifts_is_no_wave() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    even = likelier(whole)
    whole.ratio[:] += 1.0 / 95.0 / 60.0 * (t - t[0])  # 1 mmHg in a minute
    drifts = likelier(whole)
    assert abs(drifts.any - even.any) < 1.0
    assert abs(drifts.regular - even.regular) < 1.0


def test_pressure_that_wanders_alone_is_no_wave() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    whole.pa_mmhg[:] += 3.0 * np.sin(2.0 * np.pi * t / 30.0)
    got = likelier(whole)
    assert max(got.any, got.regular) < 0.0


def test_an_unknown_pa_is_no_obstacle() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    course = course_of(whole)
    whole.pa_mmhg[:] = np.nan
    got = waves_in(whole, course, (t > 115.0) & (t < 195.0))
    assert got is not None
    assert np.isfinite([got.any, got.regular]).all()


def test_a_short_plateau_says_nothing() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    on = (whole.time_s > 120.0) & (whole.time_s < 140.0)
    assert waves_in(whole, course_of(whole), on) is None


def test_noise_of_means_leaves_slow_change_out() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(4000.0)
    row = (0.01 * t + rng.normal(0.0, 0.2, t.size))[None]
    _, means = means_of(t, row, np.ones(t.size, dtype=bool))
    assert means.shape == (1, 800)
    # 0.2 over the root of five beats in 5 s
    assert abs(float(noise_of(means)[0]) - 0.2 / 5.0**0.5) < 0.01
