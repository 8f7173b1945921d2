"""Brief falls of Pd/Pa are told from a long course, a wander, a withdrawal and an act's own dip."""

from itertools import pairwise

import numpy as np
import pytest

from arteriole.episodes.hyperaemia_doses import (
    REACH_S,
    UPPER,
    _upper,
    doses_of,
    find_falls,
    given_by,
    line_of_doses,
    phases_by_doses,
)
from arteriole.recording.channel import Samples

from .courses import arrival, beats, trend

REST_S = (20.0, 50.0)
STARTS_S = (100.0, 160.0, 220.0)
END_S = 290.0


def dose(time_s: Samples, start_s: float, held_s: float = 18.0) -> Samples:
    """Return one dose's effect: 10 to 90 % in 6 s, gone again in 14 s."""
    comes = arrival(time_s, start_s + 4.0, 6.0)
    goes = arrival(time_s, start_s + 17.0 + held_s, 14.0)
    return np.asarray(comes * (1.0 - goes))


def several(*starts_s: float, until_s: float = END_S) -> tuple[Samples, Samples]:
    t = beats(until_s)
    return t, np.asarray(sum(dose(t, s) for s in starts_s))


@pytest.mark.parametrize(("fall", "within_s"), [(0.20, 2.5), (0.05, 3.5), (0.015, 5.0)])
def test_each_dose_is_found_with_its_plateau(fall: float, within_s: float) -> None:
    t, effect = several(*STARTS_S)
    found = find_falls(trend(effect, t, fall=fall), REST_S, END_S)

    assert len(found) == 3
    for got, start in zip(found, STARTS_S, strict=True):
        truth = t[dose(t, start) >= 0.9]
        assert got.back
        assert got.sound
        assert got.begun_s == pytest.approx(start + 1.0, abs=4.0)
        assert got.steady_s == pytest.approx(truth[0], abs=within_s)
        assert got.over_s == pytest.approx(truth[-1], abs=within_s)


def test_beats_lost_in_an_injection_do_not_part_a_dose() -> None:
    t, effect = several(*STARTS_S)
    kept = (t < 110.0) | (t > 119.0)
    found = find_falls(trend(effect[kept], t[kept]), REST_S, END_S)

    assert [f.sound for f in found] == [True, True, True]


def test_a_gauge_that_drifts_hides_no_dose() -> None:
    t, effect = several(*STARTS_S)
    drifting = effect + (t - 50.0) / 480.0  # half the fall of a dose until the end

    assert len(doses_of(find_falls(trend(drifting, t, fall=0.05), REST_S, END_S), told=True)) == 3


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_a_long_course_and_a_vessel_without_drug_are_no_doses(seed: int, told: bool) -> None:
    t = beats(END_S)
    waves = 0.75 + 0.25 * np.sin(2.0 * np.pi * t / 30.0)
    # full from the first wave to the next, half gone between them
    for effect in (arrival(t), arrival(t) * waves, np.zeros(t.size)):
        found = find_falls(trend(effect, t, seed=seed), REST_S, END_S)
        assert doses_of(found, told=told) == ()


def test_a_wire_drawn_back_from_a_long_plateau_is_no_dose() -> None:
    t = beats(END_S)
    effect = arrival(t, 90.0, 30.0) - 1.4 * arrival(t, 240.0, 20.0)

    assert doses_of(find_falls(trend(effect, t), REST_S, END_S), told=True) == ()


def test_one_fall_is_a_dose_only_where_the_sheet_names_the_artery() -> None:
    t, effect = several(100.0)
    found = find_falls(trend(effect, t), REST_S, END_S)

    assert len(doses_of(found, told=True)) == 1
    assert doses_of(found, told=False) == ()


def test_falls_that_acts_began_are_doses_only_where_the_sheet_says_so() -> None:
    t, effect = several(*STARTS_S)
    found = find_falls(trend(effect, t), REST_S, END_S)
    acts = [s - 1.0 for s in STARTS_S]

    assert doses_of(found, told=False, acts_s=acts) == ()
    assert len(doses_of(found, told=True, acts_s=acts)) == 3
    assert given_by([60.0, *acts, 112.0], found) == (False, True, True, True, False)


def test_a_dose_beside_a_blocked_ostium_is_not_sound_and_an_infusion_is_left_out() -> None:
    t, effect = several(*STARTS_S)
    whole = trend(effect, t)
    blocked = find_falls(whole, REST_S, END_S, blocked_s=[(155.0, 175.0)])

    assert [f.sound for f in blocked] == [True, False, True]
    away = find_falls(whole, REST_S, END_S, away_s=[(95.0, 150.0)])
    assert [round(f.begun_s, -1) for f in away] == [160.0, 220.0]


def test_line_and_phases_follow_the_doses() -> None:
    t, effect = several(*STARTS_S)
    doses = doses_of(find_falls(trend(effect, t), REST_S, END_S), told=True)
    line = line_of_doses(doses, END_S)

    assert [s.state for s in line] == ["building", "steady", "fading", "not reached"] * 3
    assert all(a.end_s == b.start_s for a, b in pairwise(line))
    assert phases_by_doses([60.0, 110.0, 154.0, 171.0], doses) == (
        "rest", "hyperaemia", "rest", "hyperaemia",
    )  # fmt: skip


def test_the_level_without_drug_is_the_percentile_of_the_beats_in_reach() -> None:
    # numpy's percentile, beat by beat, as the reference
    rng = np.random.default_rng(1)
    time_s = np.cumsum(rng.uniform(0.4, 1.3, 500))
    time_s[300:] += 2.0 * REACH_S  # a hole without beats
    row = np.round(rng.normal(0.9, 0.05, 500), 3)
    asked = [
        np.percentile(row[(time_s > t - REACH_S) & (time_s < t + REACH_S)], UPPER) for t in time_s
    ]
    assert _upper(time_s, row) == pytest.approx(asked, abs=1e-12)
