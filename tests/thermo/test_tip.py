"""The shaft's time zero, moved by what the pushes on Pd show together."""

from dataclasses import replace

import pytest

from arteriole.thermo import BolusReading
from arteriole.thermo.tip import ON_THE_WAY_S, SHAFT_SD_S, TipOffset, at_the_tip, tip_offset


def reading(late_s=None, **changes):
    features = {"cold_late_s": 0.030} | ({} if late_s is None else {"push_late_s": late_s})
    one = BolusReading(
        time_s=10.0, end_s=23.0, zero_s=10.30, time_zero="shaft", tmn_s=0.80, tmn_onset_s=1.10,
        sd_s={"fill": 0.010, "time zero": 0.006}, features=features,
    )  # fmt: skip
    return replace(one, **changes)


def test_the_mean_difference_is_shrunk_and_better_known_with_more_pushes():
    few = tip_offset([reading(0.014)] * 3)
    many = tip_offset([reading(0.014)] * 12)
    assert few is not None
    assert many is not None
    assert 0.010 < few.late_s < many.late_s < 0.014
    assert many.sd_s < few.sd_s < SHAFT_SD_S


def test_two_pushes_or_pushes_far_from_the_shafts_say_nothing():
    assert tip_offset([reading(0.014)] * 2) is None
    assert tip_offset([reading(0.09)] * 6) is None
    assert tip_offset([reading(0.014, time_zero="pressure")] * 6) is None


def test_time_zero_moves_and_the_passage_of_the_cold_stays_but_for_the_way_to_the_tip():
    before = reading(0.014)
    after = at_the_tip(before, TipOffset(late_s=0.010, sd_s=0.006))
    assert after.zero_s == pytest.approx(10.31)
    assert after.tmn_s == pytest.approx(0.79)
    assert after.zero_s + after.tmn_s == pytest.approx(before.zero_s + before.tmn_s)
    cold = [r.zero_s + r.features["cold_late_s"] for r in (before, after)]
    assert cold[1] - cold[0] == pytest.approx(ON_THE_WAY_S)
    assert after.sd_s == {"fill": 0.006, "time zero": 0.006}


def test_other_time_zeros_are_left_alone():
    marked = reading(time_zero="marked")
    assert at_the_tip(marked, TipOffset(late_s=0.010, sd_s=0.006)) is marked
    unread = reading(tmn_s=None)
    assert at_the_tip(unread, TipOffset(late_s=0.010, sd_s=0.006)) is unread
