"""Which pullback and which drift check are read, and what is told of the others. SIMULATED."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.episodes import Episode
from arteriole.recording import Mark, Recording
from arteriole.recording.sheet import Pullback
from arteriole.simulate import Session, session
from arteriole.study import Result, analyse
from arteriole.study.repeats import read_one, without_overlap


@pytest.fixture(scope="module")
def focal() -> Session:
    return session("focal", 7, rate_hz=250.0)


@pytest.fixture(scope="module")
def once(focal: Session) -> Result:
    return analyse(focal.recording, focal.sheet)


def ends(one: Session) -> tuple[float, float, float]:
    """Return when the wire is drawn, when it arrives, and the end, s."""
    true = one.truth["pullback"]
    return true["t0"], true["t1"], one.recording.duration_s


def put_back(one: Session) -> Recording:
    """Return the recording with the wire put back at the end and drawn once more."""
    start, stop, end = ends(one)
    channels = []
    for c in one.recording.channels:
        a, b, n = (round(s * c.rate_hz) for s in (start - 15.0, min(stop + 12.0, end), end))
        channels.append(replace(c, values=np.concatenate((c.values[:n], c.values[a:b]))))
    return replace(one.recording, channels=tuple(channels))


def codes(result: Result) -> set[str]:
    return {f.code for f in result.findings}


def test_of_a_wire_drawn_twice_the_first_is_read_and_the_second_told(
    focal: Session, once: Result
) -> None:
    twice = analyse(put_back(focal), focal.sheet)
    drawn = [e for e in twice.episodes if e.kind == "pullback"]
    assert len(drawn) == 2
    assert drawn[0].end_s == pytest.approx(ends(focal)[1], abs=7.5)
    assert drawn[1].start_s > ends(focal)[2]
    drop = twice.index("pullback_drop")
    assert drop.value == pytest.approx(once.index("pullback_drop").value, abs=0.01)
    (told,) = [f for f in twice.findings if f.code == "pullback_repeated"]
    assert told.severity == "caution"
    assert f"{drawn[1].start_s:.0f} to {drawn[1].end_s:.0f} s" in told.message
    assert twice.gauge.drift.start_s is not None
    assert twice.gauge.drift.start_s < ends(focal)[2]
    assert "pullback_repeated" not in codes(once)


def test_two_marked_checks_that_differ_are_both_told(focal: Session, once: Result) -> None:
    stop, end = once.pullback.end_s + 1.0, ends(focal)[2]  # type: ignore[union-attr]
    half = (stop + end) / 2.0
    later = tuple(
        replace(c, values=np.where(np.arange(c.values.size) > half * c.rate_hz, c.values + 3.0,
                                   c.values)) if c.name == "pd" else c
        for c in focal.recording.channels
    )  # fmt: skip
    marks = (
        Mark(kind="drift_check", start_s=stop, end_s=half - 0.5),
        Mark(kind="drift_check", start_s=half + 0.5, end_s=end - 0.5),
    )
    result = analyse(
        replace(focal.recording, channels=later), replace(focal.sheet, marks=marks)
    )  # fmt: skip
    (told,) = [f for f in result.findings if f.code == "drift_check_repeated"]
    assert "They differ by 3.0 mmHg" in told.message
    assert result.gauge.drift.end_s is not None
    assert result.gauge.drift.end_s < half  # the first is nearest to what was measured


def test_a_found_pullback_ends_where_a_marked_check_begins() -> None:
    pulled = Episode(kind="pullback", start_s=330.0, end_s=369.6, phase="hyperaemia")
    check = Episode(kind="drift_check", start_s=357.0, end_s=365.0, source="marked")
    assert without_overlap((pulled, check)) == (replace(pulled, end_s=357.0), check)
    # What a person marked stays as marked.
    marked = replace(pulled, source="marked")
    assert without_overlap((marked, check)) == (marked, check)


def test_a_found_check_begins_where_a_marked_pullback_ends() -> None:
    pulled = Episode(kind="pullback", start_s=330.0, end_s=360.0, source="marked")
    check = Episode(kind="drift_check", start_s=356.0, end_s=375.0)
    assert without_overlap((pulled, check)) == (pulled, replace(check, start_s=360.0))


def test_the_check_that_follows_the_pullback_is_read() -> None:
    early, pulled, late = (
        Episode(kind="drift_check", start_s=100.0, end_s=110.0, source="marked"),
        Episode(kind="pullback", start_s=330.0, end_s=355.0),
        Episode(kind="drift_check", start_s=356.0, end_s=370.0, source="marked"),
    )
    assert read_one((early, pulled, late), "drift_check") is late
    assert read_one((early, late), "drift_check") is early
    assert read_one((), "pullback") is None


def test_a_told_duration_that_disagrees_takes_side_and_certainty(focal: Session) -> None:
    length = focal.sheet.pullback.length_mm or 80.0
    start, stop, _ = ends(focal)
    marks = (Mark(kind="pullback", start_s=start, end_s=stop),)  # so that its beginning is sure
    agreed, sheet = (
        replace(focal.sheet, marks=marks, pullback=Pullback(length_mm=length, speed_mm_s=v))
        for v in (length / (stop - start), 0.5)
    )
    once, result = analyse(focal.recording, agreed), analyse(focal.recording, sheet)
    index = result.index("pullback_gradient_index")
    assert "pullback_pace" in codes(result)
    assert result.pullback is not None
    assert result.pullback.certainty == "cannot say"
    assert index.certainty == "cannot say"
    assert {c.side for c in index.cutoffs} == {None}
    assert index.value == once.index("pullback_gradient_index").value
    assert "pullback_pace" not in codes(once)


def test_a_drop_holds_what_the_gauge_may_have_moved_meanwhile(focal: Session, once: Result) -> None:
    # Pd falls by 6 mmHg as the wire is drawn: the far ratio then reads too high against the guide.
    at = ends(focal)[0] + 2.0
    lower = tuple(
        replace(c, values=np.where(np.arange(c.values.size) > at * c.rate_hz, c.values - 6.0,
                                   c.values)) if c.name == "pd" else c
        for c in focal.recording.channels
    )  # fmt: skip
    moved = analyse(replace(focal.recording, channels=lower), focal.sheet)
    true, read = once.index("pullback_drop"), moved.index("pullback_drop")
    assert true.value is not None
    assert read.interval95 is not None
    assert true.interval95 is not None
    low, high = read.interval95
    assert low - 0.005 < true.value < high + 0.005
    width = true.interval95[1] - true.interval95[0]
    assert high - low > width + 0.04  # 6 mmHg of some 90
    assert read.value is not None
    assert high - read.value > 3.0 * (read.value - low)  # on one side


def test_no_length_and_no_drop_are_told_apart(focal: Session) -> None:
    without = analyse(focal.recording, replace(focal.sheet, pullback=Pullback()))
    why = without.index("pullback_gradient_index").withheld
    assert why is not None
    assert why.do == "Enter pullback.length_mm on the sheet."
