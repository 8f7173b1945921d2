"""Several runs of one case become one recording."""

import numpy as np
import pytest

from arteriole.errors import UnreadableRecording
from arteriole.recording import Channel, Finding, Recording
from arteriole.recording.runs import BREAK_S, join_runs


def run(name: str, seconds: float, rate_hz: float = 100.0, **extra) -> Recording:
    values = np.arange(round(seconds * rate_hz), dtype=float)
    pa = Channel(name="pa", unit="mmHg", rate_hz=rate_hz, values=values)
    return Recording(name=name, sha256=name, format="csv", channels=(pa,), **extra)


def test_one_run_is_itself():
    only = run("a", 3.0)

    assert join_runs([only]) is only


def test_samples_keep_their_values_and_the_break_is_lost():
    both = join_runs([run("a", 3.0), run("b", 2.0)]).channel("pa")

    assert both.values.size == round((3 + BREAK_S + 2) * 100)
    assert np.array_equal(both.values[:300], np.arange(300.0))
    assert np.isnan(both.values[300 : 300 + round(BREAK_S * 100)]).all()
    assert np.array_equal(both.values[-200:], np.arange(200.0))


def test_findings_of_the_second_run_move_with_it():
    remark = Finding(code="x", severity="note", channel="pa", start_s=1.0, end_s=2.0,
                     message="m", do="d")  # fmt: skip
    joined = join_runs([run("a", 3.0), run("b", 2.0, findings=(remark,))])

    assert [f.start_s for f in joined.findings if f.code == "x"] == [3 + BREAK_S + 1.0]


def test_another_rate_is_refused_with_a_remedy():
    with pytest.raises(UnreadableRecording, match=r"100 Hz .* 200 Hz .* convert one"):
        join_runs([run("a", 3.0), run("b", 2.0, rate_hz=200.0)])


def test_no_run_is_refused():
    with pytest.raises(UnreadableRecording, match="at least one file"):
        join_runs([])
