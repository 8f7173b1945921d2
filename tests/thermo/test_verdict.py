"""Verdicts and their reasons."""

from dataclasses import dataclass, replace

import pytest

from arteriole.recording import Settings
from arteriole.thermo import BolusReading, grade_injections

GOOD = {"injection_s": 0.6, "peak_drop_c": 4.0, "noise_c": 0.01, "humps": 1.0, "shaft_pulses": 1.0}


@dataclass(frozen=True)
class Stretch:
    start_s: float
    end_s: float
    state: str


def reading(time_s: float, tmn_s: float | None, **features: float) -> BolusReading:
    return BolusReading(
        time_s=time_s, end_s=time_s + 8.0, zero_s=time_s + 0.3, time_zero="shaft", tmn_s=tmn_s,
        tmn_onset_s=tmn_s, features=GOOD | features, faults=() if tmn_s else ("small",),
    )  # fmt: skip


def grade(*readings: BolusReading, phase: str = "rest", **words):
    return grade_injections(readings, [phase] * len(readings), Settings(), **words)


def three(**features: float):
    return grade(reading(100, 1.0), reading(120, 1.02, **features), reading(140, 0.98))


def test_three_alike_are_usable_without_a_word() -> None:
    assert three() == (("usable", ()),) * 3


@pytest.mark.parametrize(
    ("features", "verdict", "phrase"),
    [
        ({"injection_s": 2.3}, "repeat", "too slow: 2.3 s"),
        ({"injection_s": 1.2}, "look again", "slow: 1.2 s"),
        ({"shaft_pulses": 2.0}, "repeat", "injected in two pushes"),
        ({"shaft_misfit": 0.05}, "look again", "uneven injection"),
        ({"baseline_slope_c_s": 0.05}, "look again", "baseline unsteady"),
        ({"tail_share": 0.3}, "look again", "late tail"),
        ({"humps": 2.0}, "look again", "two humps"),
        ({"peak_drop_c": 1.0}, "look again", "small against the others"),
        ({"peak_drop_c": 0.04}, "repeat", "small against the noise"),
        ({"pa_missing_before": 0.9}, "look again", "Pa lost before it"),
        ({"missing": 0.2}, "look again", "temperature partly lost"),
        ({"fit_error": 0.2}, "look again", "shape unlike a bolus"),
    ],
)
def test_each_fault_has_its_verdict_and_phrase(features, verdict, phrase) -> None:
    got = three(**features)[1]
    assert got[0] == verdict
    assert phrase in got[1]
    assert all(len(p.split()) < 8 for p in got[1])


def test_humps_in_every_curve_are_kept_and_described() -> None:
    got = grade(*(reading(t, 1.0, humps=2.0) for t in (100, 120, 140)))
    assert all(g == ("usable", ("two humps in every curve: kept",)) for g in got)


def test_an_early_injection_is_not_usable() -> None:
    got = grade(reading(100, 1.0), reading(106, 0.98), reading(130, 1.0))
    assert got[1] == ("repeat", ("early: 6 s after the last",))
    assert grade(reading(100, 1.0), reading(112, 1.0))[1][0] == "look again"
    assert grade(reading(100, 0.3), reading(112, 0.3), phase="hyperaemia")[1][0] == "usable"
    assert grade(reading(100, 1.0), other_boluses_s=(95.0,))[0][0] == "repeat"


def test_distance_from_the_median_uses_the_settings() -> None:
    far = grade(reading(100, 1.0), reading(120, 1.25), reading(140, 1.0))
    assert far[1] == ("look again", ("+25 % from the median",))
    farther = grade(reading(100, 1.0), reading(120, 1.4), reading(140, 1.0))
    assert farther[1][0] == "repeat"
    wide = grade_injections(
        [reading(100, 1.0), reading(120, 1.25), reading(140, 1.0)], ["rest"] * 3,
        replace(Settings(), alike_fraction=0.3),
    )  # fmt: skip
    assert wide[1][0] == "usable"


def test_a_bad_curve_does_not_move_the_median() -> None:
    got = grade(reading(100, 1.0), reading(120, 1.05), reading(140, 2.0, injection_s=2.5))
    assert [g[0] for g in got] == ["usable", "usable", "repeat"]


def test_hyperaemia_that_is_not_steady_is_named() -> None:
    states = [Stretch(0.0, 110.0, "building"), Stretch(110.0, 200.0, "steady")]
    got = grade(reading(100, 0.3), reading(112, 0.3), phase="hyperaemia", hyperaemia_states=states)
    assert got[0] == ("look again", ("hyperaemia building",))
    assert got[1][0] == "usable"


def test_injections_after_the_wire_moved_are_named() -> None:
    got = grade(reading(100, 1.0), reading(120, 1.0), reading(140, 1.0), wire_moved_s=(130.0,))
    assert [g[0] for g in got] == ["usable", "usable", "look again"]


def test_no_curve_is_to_be_repeated() -> None:
    assert grade(reading(100, None))[0] == ("repeat", ("no temperature drop seen",))


def test_two_fifths_of_the_volume_are_seen_as_small_and_a_whole_one_is_not() -> None:
    # the area goes with the heat, the peak with less than that: a slower flow makes a wider curve
    sizes = [(4.0, 4.0), (2.4, 2.0), (3.2, 2.6)]  # peak °C, area °C s: whole, small, whole
    rows = [
        reading(100 + 20 * k, 1.0, peak_drop_c=peak, area_c_s=area)
        for k, (peak, area) in enumerate([*sizes, sizes[0], sizes[0]])
    ]
    got = [phrases for _verdict, phrases in grade(*rows)]
    assert got[1] == ("small against the others",)
    assert got[0] == got[2] == ()


def test_a_hump_beside_shoulders_of_a_second_path_is_kept_and_described() -> None:
    humps = reading(120, 1.02, humps=2.0)
    others = [replace(reading(t, 1.0), model="two paths, 1 to 4") for t in (100, 140)]
    got = grade(others[0], humps, others[1])
    assert got[1] == ("usable", ("two humps in every curve: kept",))


def test_a_curve_cut_by_the_next_injection_is_graded_with_what_there_is() -> None:
    got = grade(reading(100, 1.0), reading(103, 1.1), reading(125, 1.02))
    assert got[0][0] == "usable"
    assert got[1] == ("repeat", ("early: 3 s after the last",))


def test_placing_that_is_unsure_never_says_repeat_by_distance_alone() -> None:
    far = replace(reading(140, 1.5), sd_s={"time zero": 0.10, "placing": 0.13})
    assert grade(reading(100, 1.0), reading(120, 1.02), far)[2][0] == "look again"


def test_a_push_on_pd_that_may_be_an_odd_beat_says_repeat_only_far_beyond_its_placing() -> None:
    def verdict(tmn_s: float, placed_s: float) -> str:
        pushed = replace(reading(140, tmn_s, push_rise_mmhg=5.0), sd_s={"time zero": placed_s})
        return grade(reading(100, 1.0), reading(120, 1.02), pushed)[2][0]

    assert verdict(1.45, 0.02) == "look again"
    assert verdict(1.80, 0.30) == "look again"
    assert verdict(3.50, 0.02) == "repeat"


def test_a_slow_look_and_a_distance_together_say_repeat() -> None:
    slow = replace(
        reading(140, 1.5, injection_fit_s=1.6), time_zero="pressure",
        sd_s={"time zero": 0.10, "placing": 0.13},
    )  # fmt: skip
    verdict, why = grade(reading(100, 1.0), reading(120, 1.02), slow)[2]
    assert verdict == "repeat"
    assert why == ("+47 % from the median", "may have been injected slowly")
    near = replace(slow, tmn_s=1.05)
    assert grade(reading(100, 1.0), reading(120, 1.02), near)[2][0] == "look again"


def test_an_early_injection_is_called_early_whatever_its_curve_shows() -> None:
    # in the wake of another neither its length nor its pushes can be read
    odd = reading(103, 0.6, shaft_pulses=2.0, injection_s=4.1, fit_error=0.3)
    lost = reading(128, None)
    got = grade(reading(100, 1.0), odd, reading(125, 1.02), lost)
    assert got[1][0] == "repeat"
    assert got[1][1][0] == "early: 3 s after the last"
    assert "injected in two pushes" not in got[1][1]
    assert got[3][1][0] == "early: 3 s after the last"
