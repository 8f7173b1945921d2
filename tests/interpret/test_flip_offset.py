"""The smallest offset of Pd that turns the statement: every index that rests on Pd moves.

Each number is worked by hand beside its test.
"""

from dataclasses import fields, replace

import numpy as np
import pytest

from arteriole import interpret
from arteriole.indices import Evidence, FlowEvidence, InjectionEvidence, Pressures, compute
from arteriole.interpret.flip_offset import shifted
from arteriole.interpret.typed import interpret_typed
from arteriole.recording import Settings, Sheet
from arteriole.signal.beats import Beats

RULES = interpret.rule_table()
OTHER_TABLES = {}


def injections(pd_hyper=68.0, hyper=(0.44, 0.46, 0.45), rest=(0.60, 0.62, 0.61)):
    return tuple(
        InjectionEvidence(
            label=f"{letter}{k}", phase=phase, tmn_s=t, pa_before_mmhg=95.0, pd_before_mmhg=pd
        )
        for phase, letter, times, pd in (
            ("rest", "R", rest, 80.0), ("hyperaemia", "H", hyper, pd_hyper),
        )
        for k, t in enumerate(times, 1)
    )  # fmt: skip


def narrowed(**changed):
    """FFR 0.60, far from its line; resting Pd/Pa 0.75 with it."""
    whole = {
        "injections": injections(), "rest": Pressures(pa_mmhg=95.0, pd_mmhg=71.0),
        "plateau": Pressures(pa_mmhg=95.0, pd_mmhg=57.0), "settings": Settings(draws=1000),
    } | changed  # fmt: skip
    return Evidence(**whole)


def offsets(evidence, state="steady"):
    rows = compute(evidence)
    found = interpret.flips(evidence, rows, state, (), RULES, OTHER_TABLES)
    return [f for f in found if f.smallest_change.startswith("Pd reading")]


def test_the_yong_form_decides_behind_a_stenosis_and_is_moved_by_an_offset():
    # 0.45 * (1.35 * 68 - 0.32 * 95) = 27.63; below 24.95 from Pd 63.59 on, that is 4.41 lower
    first = offsets(narrowed())[0]

    assert first.what == "IMR, Yong form (bolus) 27.6 against >= 25"
    assert first.smallest_change == "Pd reading 4.5 mmHg too high"
    assert first.would_become == "IMR, Yong form (bolus) 24.9; obstructive epicardial"


def test_an_offset_the_other_way_turns_it_back():
    # at Pd 63.0 the form is 24.59; 24.95 is printed 25.0 from Pd 63.59 on
    first = offsets(narrowed(injections=injections(63.0)))[0]

    assert first.smallest_change == "Pd reading 0.6 mmHg too low"
    assert first.would_become == "IMR, Yong form (bolus) 25.0; epicardial and microvascular"


def test_the_occlusion_form_is_moved_too():
    # 95 * 0.45 * (68 - 20) / 75 = 27.36; below 24.95 from Pd 63.77 on, that is 4.23 lower
    found = offsets(narrowed(sheet=Sheet(coronary_occlusion_mmhg=20.0)))

    assert [f.smallest_change for f in found] == ["Pd reading 4.3 mmHg too high"]
    assert found[0].what.startswith("IMR, occlusion form")


def test_plain_resistance_is_moved_where_nothing_is_narrowed():
    # 0.30 * 85 = 25.5; below 24.95 from Pd 83.16 on. FFR 0.90 and reserve 3.3 are far off
    row = injections(85.0, hyper=(0.30, 0.30, 0.30), rest=(1.0, 1.0, 1.0))
    flat = narrowed(
        injections=row, rest=Pressures(pa_mmhg=95.0, pd_mmhg=91.0),
        plateau=Pressures(pa_mmhg=95.0, pd_mmhg=88.0),
    )  # fmt: skip
    first = offsets(flat)[0]

    assert first.smallest_change == "Pd reading 1.9 mmHg too high"
    assert first.would_become == "IMR (bolus) 24.9; no abnormality measured"


def test_the_continuous_reserve_is_moved():
    # 2.75 * 95 / 90 = 2.90; at 2.70 it no longer excludes: Pd 96.6, that is 6.6 more
    flows = tuple(
        FlowEvidence(phase=phase, q_ml_min=q, pa_mmhg=95.0, pd_mmhg=90.0)
        for phase, q in (("rest", 80.0), ("hyperaemia", 220.0))
    )
    flat = narrowed(
        injections=(), flows=flows, rest=Pressures(pa_mmhg=95.0, pd_mmhg=93.0),
        plateau=Pressures(pa_mmhg=95.0, pd_mmhg=90.0),
    )  # fmt: skip
    first = offsets(flat)[0]

    assert first.what.startswith("MRR (continuous)")
    assert first.smallest_change == "Pd reading 6.6 mmHg too low"


def test_a_ratio_within_the_beat_moves_by_the_pa_of_its_window():
    # (0.895 - 0.821) * 80 = 5.92; by Pa of the whole beat it would be 7.0
    rest = Pressures(
        pa_mmhg=95.0, pd_mmhg=70.0, ratios={"late_diastolic_ratio": 0.821},
        window_pa_mmhg={"late_diastolic_ratio": 80.0},
    )  # fmt: skip
    found = offsets(Evidence(rest=rest, settings=Settings(draws=1000)), "not reached")

    assert [f.smallest_change for f in found] == ["Pd reading 6.0 mmHg too low"]


def test_every_resting_index_counts_where_they_decide():
    # resting Pd/Pa 0.88 leaves its line after 0.915 * 95 - 83.6 = 3.33, long before the other
    rest = Pressures(
        pa_mmhg=95.0, pd_mmhg=83.6, ratios={"late_diastolic_ratio": 0.70},
        window_pa_mmhg={"late_diastolic_ratio": 80.0},
    )  # fmt: skip
    first = offsets(Evidence(rest=rest, settings=Settings(draws=1000)), "not reached")[0]

    assert first.what == "resting Pd/Pa 0.88 against <= 0.91"
    assert first.smallest_change == "Pd reading 3.4 mmHg too low"
    assert first.would_become.endswith("cannot say")


def test_a_line_that_leaves_the_pattern_does_not_hide_one_that_turns_it():
    # the bed is on both sides by the conventions, so resistance alone turns nothing; FFR does
    row = tuple(
        replace(i, tmn_onset_s=i.tmn_s + 0.3)
        for i in injections(87.0, hyper=(0.29, 0.29, 0.29), rest=(0.70, 0.70, 0.70))
    )
    flat = narrowed(
        injections=row, rest=Pressures(pa_mmhg=95.0, pd_mmhg=93.0),
        plateau=Pressures(pa_mmhg=95.0, pd_mmhg=87.0),
    )  # fmt: skip
    told = [f.would_become for f in offsets(flat)]

    assert told[0].endswith("pattern stays cannot say")
    assert len(told) == 2
    assert not told[1].endswith("pattern stays cannot say")


@pytest.mark.parametrize("k", [-1, 1])
def test_nothing_within_the_largest_offset_is_nothing(k):
    far = narrowed(injections=(), plateau=Pressures(pa_mmhg=150.0, pd_mmhg=60.0 + k),
                   rest=Pressures(pa_mmhg=150.0, pd_mmhg=90.0))  # fmt: skip
    assert offsets(far) == []


def test_pd_moves_in_beats_and_in_the_lowest_smoothed_ratio():
    given = {
        f.name: np.zeros(9) for f in fields(Beats) if f.name not in {"rate_hz", "delay_s"}
    } | {"rate_hz": 100.0, "delay_s": 0.0, "pa_mean_mmhg": np.full(9, 100.0),
         "pd_mean_mmhg": np.full(9, 70.0)}  # fmt: skip
    moved = shifted(narrowed(beats=Beats(**given), lowest_smoothed=0.60), 4.0)

    assert moved.beats is not None
    assert moved.beats.pd_mean_mmhg == pytest.approx(np.full(9, 74.0))
    assert moved.lowest_smoothed == pytest.approx(0.60 + 4.0 / 95.0)
    assert moved.plateau is not None
    assert moved.plateau.pd_mmhg == 61.0
    assert {i.pd_before_mmhg for i in moved.injections} == {84.0, 72.0}
    assert moved.drift == narrowed().drift


def test_typed_numbers_move_by_the_pa_that_is_said():
    # 0.79 is printed 0.81 from 0.805 on: 0.015 * 90 = 1.35
    study = interpret_typed({"ffr": "0.79"}, Sheet(), Settings(), RULES, {})
    found = [f for f in study.flips if f.smallest_change.startswith("Pd reading")]

    assert found[0].smallest_change == "Pd reading 1.4 mmHg too low, at Pa 90 mmHg"


def test_a_typed_resistance_moves_with_the_pd_of_ffr():
    # Pd 0.60 * 90 = 54; the form 1.35 * 54 - 0.32 * 90 = 44.1 has to fall by 1.05 of 26 (4.04 %)
    study = interpret_typed(
        {"ffr": "0.60", "imr_corrected": "26"}, Sheet(), Settings(), RULES, {}
    )  # fmt: skip
    found = [f for f in study.flips if f.smallest_change.startswith("Pd reading")]

    assert found[0].smallest_change == "Pd reading 1.4 mmHg too high, at Pa 90 mmHg"
    assert found[0].would_become.endswith("obstructive epicardial")
