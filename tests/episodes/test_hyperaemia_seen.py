"""Full, submaximal, uneven and unseen hyperaemia are told apart, and each second has its state."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from arteriole.episodes.hyperaemia_doubt import SURE_SHORT, Doubt
from arteriole.episodes.hyperaemia_seen import Seen, proven_states, see_hyperaemia
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

from .courses import END_S, FIRST_S, FROM_S, HYPER_S, REST_S, arrival, beats, trend


def seen(whole: Trend, **changed: Any) -> Seen | None:
    given: dict[str, Any] = {
        "resting_s": REST_S, "hyper_s": HYPER_S, "still_from_s": None, "steps_s": (), "drawn": True,
    } | changed  # fmt: skip
    return see_hyperaemia(whole, FROM_S, FIRST_S, END_S, **given)


def with_wakes(row: Samples, time_s: Samples, size: float) -> Samples:
    out = row.copy()
    for at in HYPER_S:
        since = np.clip(time_s - at, 0.0, None)
        out += size * (since / 4.0) * np.exp(1.0 - since / 4.0)
    return out


def test_full_hyperaemia_builds_and_then_is_steady() -> None:
    t = beats()
    got = seen(trend(arrival(t), t))
    assert got is not None
    assert got.doubt.verdict == "full"
    assert [s.state for s in got.states] == ["building", "steady"]
    assert got.states[0].start_s == pytest.approx(85.0, abs=3.0)
    assert got.states[1].start_s == pytest.approx(108.0, abs=4.0)
    assert got.states[1].end_s == END_S


@pytest.mark.parametrize("fall", [0.02, 0.10, 0.25])
def test_injections_that_open_further_speak_against_full_hyperaemia(fall: float) -> None:
    t = beats()
    half = with_wakes(0.5 * arrival(t, 100.0, 30.0), t, 0.2)
    got = seen(trend(half, t, fall=fall))
    assert got is not None
    assert got.doubt.verdict == "submaximal"
    assert got.doubt.opened is not None
    assert got.doubt.opened > 0.15
    assert [s.state for s in got.states] == ["not reached"]


def test_a_mild_doubt_of_fullness_leaves_the_seconds_to_the_course() -> None:
    t = beats()
    mild = with_wakes(0.7 * arrival(t, 100.0, 30.0), t, 0.12)
    got = seen(trend(mild, t))
    assert got is not None
    assert got.doubt.verdict == "submaximal"  # the caution stands
    assert not got.doubt.never_full
    assert got.states[0].state == "building"
    assert "steady" in {s.state for s in got.states}


def test_too_little_drug_for_certain_stands_where_its_arrival_was_too_faint_to_be_seen() -> None:
    got = Doubt(verdict="not seen", short=SURE_SHORT + 1.0)
    assert got.never_full
    assert not Doubt(verdict="not seen").never_full


def test_what_a_blocked_ostium_does_is_no_wave() -> None:
    t = beats()
    after = np.clip((t - 150.0) / 4.0, 0.0, None)
    again = arrival(t) * (1.0 - 0.6 * after * np.exp(1.0 - after))
    plain = seen(trend(again, t), hyper_s=())
    told = seen(trend(again, t), hyper_s=(), blocked_s=[(149.0, 151.0)])
    assert plain is not None
    assert told is not None
    assert plain.plateau.waves is not None
    assert told.plateau.waves is not None
    assert told.plateau.waves.any + 10.0 < plain.plateau.waves.any


@pytest.mark.parametrize("period_s", [15.0, 18.0, 24.0, 31.0])
@pytest.mark.parametrize("fall", [0.03, 0.10])
def test_regular_waves_of_the_drug_are_unsteady_and_their_period_is_told(
    period_s: float, fall: float
) -> None:
    t = beats()
    wave = 0.16 * np.sin(2.0 * np.pi * t / period_s)
    got = seen(trend(arrival(t) * (1.0 + wave), t, fall=fall), hyper_s=())
    assert got is not None
    assert got.doubt.verdict == "unsteady"
    assert got.doubt.wave_s == pytest.approx(period_s, rel=0.15)
    assert all(a.state != b.state for a, b in pairwise(got.states))
    assert all(a.end_s == b.start_s for a, b in pairwise(got.states))
    even = seen(trend(arrival(t), t, fall=fall), hyper_s=())
    assert even is not None
    assert even.doubt.wave_s is None


def test_pressure_that_moves_pd_pa_through_an_offset_is_no_wave_of_the_drug() -> None:
    t = beats()
    pa = 90.0 + 6.0 * np.sin(2.0 * np.pi * t / 27.0)
    whole = trend(arrival(t), t, fall=0.04)
    moved = replace(whole, pa_mmhg=pa, ratio=whole.ratio + 6.0 / pa)
    plain = replace(whole, pa_mmhg=pa[0] + 0.0 * pa, ratio=moved.ratio)
    got, alike = seen(moved), seen(plain)
    assert got is not None
    assert alike is not None
    assert got.doubt.verdict == "full"
    assert got.plateau.waves is not None
    assert alike.plateau.waves is not None
    # The same Pd/Pa with a Pa that stands still can only be the drug.
    assert got.plateau.waves.any + 5.0 < alike.plateau.waves.any


def test_an_effect_that_comes_and_goes_is_unsteady_and_its_holes_are_not_steady() -> None:
    t = beats()
    hole = 1.0 - 0.5 * np.exp(-(((t - 135.0) / 7.0) ** 2))
    got = seen(trend(arrival(t) * hole, t), hyper_s=())
    assert got is not None
    assert got.doubt.verdict == "unsteady"
    at_135 = next(s.state for s in got.states if s.start_s <= 135.0 < s.end_s)
    assert at_135 == "building"
    assert got.states[-1].state == "steady"


def test_a_wire_that_slipped_is_neither_fading_nor_unsteady() -> None:
    t = beats()
    whole = trend(arrival(t), t)
    slipped = np.where(t > 163.0, 0.05, 0.0)
    moved = trend(arrival(t), t)
    object.__setattr__(moved, "ratio", moved.ratio + slipped)
    moved.shape_mmhg[t > 163.0] = -0.5 - 1.5
    plain, got = seen(whole), seen(moved, steps_s=(163.0,))
    assert plain is not None
    assert got is not None
    assert got.doubt.verdict == "full"
    assert [s.state for s in got.states] == ["building", "steady"]


def test_a_drug_stopped_before_the_pullback_fades() -> None:
    t = beats()
    gone = arrival(t) * (1.0 - arrival(t, 182.0, 10.0))
    got = seen(trend(gone, t))
    assert got is not None
    assert got.states[-1].state == "fading"
    assert got.states[-1].start_s == pytest.approx(180.0, abs=5.0)


def test_without_a_pullback_hyperaemia_ends_with_its_effect() -> None:
    t = beats()
    gone = arrival(t) * (1.0 - arrival(t, 182.0, 10.0))
    got = seen(trend(gone, t), drawn=False)
    assert got is not None
    assert got.states[-1].state == "steady"
    assert got.end_s == pytest.approx(180.0, abs=5.0)


def test_injections_without_any_effect_are_not_called_steady() -> None:
    t = beats()
    got = seen(trend(np.zeros(t.size), t))
    assert got is not None
    assert got.doubt.verdict == "not seen"
    assert [s.state for s in got.states] == ["not reached"]
    assert [s.state for s in proven_states(got)] == ["building", "steady"]


def test_no_effect_and_no_injection_is_no_hyperaemia() -> None:
    t = beats()
    assert seen(trend(np.zeros(t.size), t), hyper_s=()) is None
