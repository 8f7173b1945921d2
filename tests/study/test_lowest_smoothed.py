"""The lowest smoothed ratio is looked for from the first effect on, never in an injection."""

from types import SimpleNamespace

import numpy as np
import pytest

from arteriole.episodes import Episode, Stretch
from arteriole.episodes.trend import Trend, running_median
from arteriole.study.evidence import lowest_smoothed_in

STATES = (
    Stretch(start_s=20.0, end_s=40.0, state="building"),
    Stretch(start_s=40.0, end_s=100.0, state="steady"),
)


def measured(ratio):
    n = ratio.size
    row = np.zeros(n)
    trend = Trend(
        time_s=np.arange(n, dtype=float), ratio=ratio, level=running_median(ratio, 7),
        pa_mmhg=row, pd_mmhg=row, shape_mmhg=row, rate_bpm=row,
    )  # fmt: skip
    return SimpleNamespace(found=SimpleNamespace(trend=trend))


def course():
    ratio = np.full(120, 0.95)
    ratio[20:] = 0.81
    return ratio


def test_a_dip_before_the_plateau_is_the_lowest_smoothed_value():
    # EarlyMinimum 2014: 0.77 first, 0.81 later, 19 of 104 recordings
    ratio = course()
    ratio[25:36] = 0.77

    assert lowest_smoothed_in(measured(ratio), STATES, [], []) == pytest.approx(0.77)


def test_where_no_second_is_under_the_drug_the_other_readings_windows_are_read():
    never = (Stretch(start_s=20.0, end_s=100.0, state="not reached"),)

    assert lowest_smoothed_in(measured(course()), never, [], []) is None
    got = lowest_smoothed_in(measured(course()), never, [], [], otherwise=((40.0, 90.0),))
    assert got == pytest.approx(0.81)


def test_a_single_low_beat_is_no_level():
    ratio = course()
    ratio[60] = 0.40

    assert lowest_smoothed_in(measured(ratio), STATES, [], []) == pytest.approx(0.81)


def test_an_injection_with_its_wake_and_what_a_person_marked_are_left_out():
    ratio = course()
    ratio[60:68] = 0.60
    marked = [Episode(kind="unusable", start_s=57.0, end_s=71.0)]

    assert lowest_smoothed_in(measured(ratio), STATES, [60.0], []) == pytest.approx(0.81)
    assert lowest_smoothed_in(measured(ratio), STATES, [], marked) == pytest.approx(0.81)


def test_without_hyperaemia_there_is_none():
    assert lowest_smoothed_in(measured(course()), (), [], []) is None
