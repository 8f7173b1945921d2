"""Resting ratios and the gauges: taken off, left in with its doubt, or withheld."""

from dataclasses import fields, replace

import numpy as np
import pytest

from arteriole.indices import Offset, Pressures, Step, compute
from arteriole.recording import Settings
from arteriole.signal import Beats

from .cases import evidence

REST = Pressures(
    pa_mmhg=90.0, pd_mmhg=81.0, middle_s=120.0, beats=20, ratio_sd={"pd_pa": 0.001},
    ratios={"diastolic_ratio": 0.86}, window_pa_mmhg={"diastolic_ratio": 75.0},
)  # fmt: skip


RECORDED = Beats(**{
    **{f.name: np.empty(0) for f in fields(Beats)}, "rate_hz": 250.0, "delay_s": 0.0,
    "delay_sd_s": 0.0,
})  # fmt: skip


def at(mmhg: float, time_s: float) -> Offset:
    state = "matched" if abs(mmhg) <= 2.0 else "off"
    return Offset(state=state, offset_mmhg=mmhg, sd_mmhg=0.15, time_s=time_s)  # type: ignore[arg-type]


def rested(start: Offset, end: Offset, key: str = "resting_pd_pa"):
    given = evidence(rest=REST, equalisation=start, drift=end, beats=RECORDED)
    return next(i for i in compute(given) if i.key == key)


def test_an_offset_both_checks_show_is_taken_off() -> None:
    # By hand: (81 + 4.5) / 90 = 0.950; as read 81 / 90 = 0.900.
    index = rested(at(-4.5, 45.0), at(-4.5, 345.0))
    assert index.value == pytest.approx(0.950)
    assert index.corrected_for == ("equalisation offset",)
    assert index.inputs["as_read"] == pytest.approx(0.900)
    assert index.alternatives["as read"] == pytest.approx(0.900)
    assert "offset" in index.formula
    low, high = index.interval95 or (0.0, 0.0)
    assert low < 0.950 < high
    assert high - low < 0.03


def test_the_offset_at_rest_lies_between_the_checks() -> None:
    # A quarter of the way: -4 - 0.25 = -4.25; (81 + 4.25) / 90 = 0.9472.
    index = rested(at(-4.0, 45.0), at(-5.0, 345.0))
    assert index.value == pytest.approx(0.9472, abs=1e-4)
    low, high = index.interval95 or (0.0, 0.0)
    assert low < (81.0 + 4.0) / 90.0 < (81.0 + 5.0) / 90.0 < high + 0.002


def test_within_the_beat_it_is_taken_off_the_window() -> None:
    # By hand: 0.86 + 4.5 / 75 = 0.920.
    index = rested(at(-4.5, 45.0), at(-4.5, 345.0), "diastolic_ratio")
    assert index.value == pytest.approx(0.920)
    assert index.inputs["as_read"] == pytest.approx(0.86)


def test_a_window_shown_beside_has_the_same_taken_off() -> None:
    # By hand: 0.87 + 4.5 / 60 = 0.945, its own Pa.
    rest = replace(
        REST, ratios={**REST.ratios, "mid_diastolic_ratio": 0.87},
        window_pa_mmhg={**REST.window_pa_mmhg, "mid_diastolic_ratio": 60.0},
    )  # fmt: skip

    def mid(start: Offset, end: Offset) -> float:
        rows = compute(evidence(rest=rest, equalisation=start, drift=end, beats=RECORDED))
        one = next(i for i in rows if i.key == "diastolic_ratio")
        return one.alternatives["mid-diastolic ratio"]

    assert mid(at(-4.5, 45.0), at(-4.5, 345.0)) == pytest.approx(0.945)
    assert mid(at(0.2, 45.0), at(0.3, 345.0)) == pytest.approx(0.87)


@pytest.mark.parametrize(
    ("start", "end"), [(at(-4.5, 45.0), Offset()), (at(-4.5, 45.0), at(-9.0, 345.0)),
                       (Offset(), at(5.0, 345.0))],
)  # fmt: skip
def test_an_offset_unknown_at_rest_withholds(start: Offset, end: Offset) -> None:
    for key in ("resting_pd_pa", "diastolic_ratio"):
        index = rested(start, end, key)
        assert index.value is None
        assert index.withheld is not None
        assert "not known" in index.withheld.reason
        assert "quali" in index.withheld.do


@pytest.mark.parametrize(
    ("start", "end"),
    [(at(-2.5, 45.0), Offset()), (at(-2.5, 45.0), at(-7.0, 345.0)),
     (at(0.5, 45.0), at(-6.0, 345.0)), (at(0.5, 45.0), Offset()),
     (Offset(), Offset()), (Offset(), at(1.0, 345.0)), (at(0.2, 45.0), at(0.4, 345.0))],
)  # fmt: skip
def test_otherwise_it_stands_as_read(start: Offset, end: Offset) -> None:
    index = rested(start, end)
    assert index.value == pytest.approx(0.900)
    assert index.corrected_for == ()


def test_drift_seen_only_at_the_end_widens_towards_where_the_truth_may_be() -> None:
    # None, in proportion to time, or all at once: Pd may read up to 6 mmHg low, 0.067 of the ratio.
    index = rested(at(0.0, 45.0), at(-6.0, 345.0))
    low, high = index.interval95 or (0.0, 0.0)
    assert high == pytest.approx(0.900 + 6.0 / 90.0, abs=0.01)
    assert low > 0.89


def test_more_agreement_never_widens() -> None:
    widths = [
        np.subtract(*(rested(at(0.0, 45.0), at(x, 345.0)).interval95 or (0, 0))[::-1])
        for x in (0.0, -1.0, -3.0, -8.0)
    ]
    assert widths == sorted(widths)


def test_the_repeat_line_is_a_setting() -> None:
    strict = evidence(
        rest=REST, equalisation=at(-2.5, 45.0), settings=Settings(gauge_repeat_mmhg=2.2)
    )
    assert next(i for i in compute(strict) if i.key == "resting_pd_pa").value is None


def test_what_resting_pd_pa_lets_expect_rests_on_the_corrected_one() -> None:
    late = Pressures(
        pa_mmhg=90.0, pd_mmhg=81.0, middle_s=120.0, beats=20, ratios={"late_diastolic_ratio": 0.86},
        window_pa_mmhg={"late_diastolic_ratio": 75.0},
    )  # fmt: skip

    def expected(start: Offset, end: Offset) -> float:
        given = evidence(rest=late, equalisation=start, drift=end)
        index = next(i for i in compute(given) if i.key == "late_diastolic_ratio")
        return index.alternatives["expected from resting Pd/Pa"]

    # 4.5 mmHg of 90 are 0.05 of Pd/Pa; the regression is steeper than 1.
    raised = expected(at(-4.5, 45.0), at(-4.5, 345.0)) - expected(at(0.0, 45.0), at(0.0, 345.0))
    assert 0.05 < raised < 0.10


def test_a_drift_alone_in_an_old_report_leaves_the_value_as_read() -> None:
    given = evidence(rest=REST, drift=at(4.0, 345.0))  # no recording
    index = next(i for i in compute(given) if i.key == "resting_pd_pa")
    assert index.value == pytest.approx(0.900)
    low, high = index.interval95 or (0.0, 0.0)
    assert high - low > 0.05


@pytest.mark.parametrize(
    ("time_s", "expected"),
    # By hand: before the step -0.5 is left as read, 81 / 90; after it (81 - 5.5) / 90 = 0.8389.
    [(200.0, 0.900), (80.0, 0.8389)],
)
def test_a_step_of_the_gauge_tells_which_check_held_at_rest(time_s, expected) -> None:
    given = evidence(
        rest=REST, equalisation=at(-0.5, 45.0), drift=at(5.5, 345.0), beats=RECORDED,
        step=Step(time_s=time_s, size_mmhg=6.0, sd_mmhg=0.1),
    )  # fmt: skip
    index = next(i for i in compute(given) if i.key == "resting_pd_pa")
    assert index.value == pytest.approx(expected, abs=1e-4)
    low, high = index.interval95 or (0.0, 0.0)
    assert low <= expected <= high
    assert high - low < 0.03
    plain = rested(at(-0.5, 45.0), at(5.5, 345.0)).interval95 or (0.0, 0.0)
    assert high - low < 0.5 * (plain[1] - plain[0])


@pytest.mark.parametrize("key", ["ffr_drift_corrected", "ffr_plateau_drift_corrected"])
def test_under_the_drug_both_moments_of_a_step_lie_inside_the_interval(key: str) -> None:
    # 0.8 of the time has passed: even in time -0.4 - 4.8 = -5.2, (66 + 5.2) / 90 = 0.791; all of
    # it before the reading 72.4 / 90, none of it 66.4 / 90.
    index = hyperaemic(key, at(-0.4, 45.0), at(-6.4, 345.0))
    low, high = index.interval95 or (0.0, 0.0)
    assert index.value == pytest.approx(71.2 / 90.0, abs=5e-3)  # five beats lie a little earlier
    assert index.alternatives["drift as a step before the reading"] == pytest.approx(72.4 / 90.0)
    assert index.alternatives["drift as a step after the reading"] == pytest.approx(66.4 / 90.0)
    assert low <= 66.4 / 90.0 < 72.4 / 90.0 <= high
    assert low > 0.71
    assert high < 0.83


def test_under_the_drug_a_drift_within_the_line_hardly_widens() -> None:
    key = "ffr_drift_corrected"
    still, small = (
        np.subtract(*(hyperaemic(key, at(0.1, 45.0), at(x, 345.0)).interval95 or (0, 0))[::-1])
        for x in (0.1, 0.6)
    )
    assert still < small < still + 0.5 / 90.0


def test_without_times_all_between_the_checks_may_have_been() -> None:
    given = evidence(
        equalisation=Offset(state="matched", offset_mmhg=0.0, sd_mmhg=0.15),
        drift=Offset(state="off", offset_mmhg=-6.0, sd_mmhg=0.15),
    )
    index = next(i for i in compute(given) if i.key == "ffr_drift_corrected")
    low, high = index.interval95 or (0.0, 0.0)
    assert index.value == pytest.approx(84.0 / 90.0)
    assert low <= 78.0 / 90.0 < 84.0 / 90.0 <= high


def hyperaemic(key: str, start: Offset, end: Offset):
    beats = replace(RECORDED, **{
        f.name: np.zeros(40) for f in fields(Beats) if f.name not in {"rate_hz", "delay_s",
                                                                      "delay_sd_s", "on_pd"}
    } | {
        "start_s": 265.0 + np.arange(40.0), "end_s": 266.0 + np.arange(40.0),
        "pa_mean_mmhg": np.full(40, 90.0), "pd_mean_mmhg": np.full(40, 66.0),
        "on_pd": np.zeros(40, dtype=bool),
    })  # fmt: skip
    given = evidence(
        beats=beats, clean=np.ones(40, dtype=bool), steady_s=((265.0, 305.0),), plateau=None,
        equalisation=start, drift=end,
    )  # fmt: skip
    return next(i for i in compute(given) if i.key == key)
