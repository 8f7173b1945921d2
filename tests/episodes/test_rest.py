"""Proven rest: long enough after flushes, steady, and before what changes the artery."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.episodes.rest import find_rest, slope
from arteriole.episodes.trend import Trend
from arteriole.recording.sheet import Nitrate, Sheet
from arteriole.simulate import session
from arteriole.study import analyse


def trend(until_s: float = 400.0, drift_per_s: float = 0.0) -> Trend:
    time = np.arange(0.0, until_s, 0.9)
    ratio = 0.95 + drift_per_s * time
    pa = np.full(time.size, 95.0)
    return Trend(
        time_s=time, ratio=ratio, level=ratio, pa_mmhg=pa, pd_mmhg=ratio * pa,
        shape_mmhg=np.zeros(time.size), rate_bpm=np.full(time.size, 66.0),
    )  # fmt: skip


def test_rest_is_the_last_stretch_before_the_first_act() -> None:
    assert find_rest(trend(), [62.0], 50.0, 130.0) == (105.0, 130.0, ())


def test_rest_too_soon_after_a_flush_is_said_to_be_early() -> None:
    found = find_rest(trend(), [62.0], 50.0, 75.0)
    assert found is not None
    assert found[2] == ("early",)


def test_rest_that_drifts_is_said_to_move() -> None:
    found = find_rest(trend(drift_per_s=0.002), [62.0], 50.0, 130.0)
    assert found is not None
    assert found[2] == ("moving",)


def test_the_slope_is_that_of_the_line() -> None:
    assert slope(trend(60.0, 0.0007)) == pytest.approx(0.0007)


def test_after_a_long_wait_rest_is_the_first_settled_stretch() -> None:
    # Something was done in between, a spasm test by dose for example, that need not show.
    assert find_rest(trend(), [62.0], 50.0, 390.0) == (102.0, 127.0, ())


@pytest.mark.parametrize(
    ("before_s", "faults", "start_s"), [(230.0, (), 205.0), (150.0, ("nitrate",), 145.0)]
)
def test_nitrate_raises_flow_for_a_minute(
    before_s: float, faults: tuple[str, ...], start_s: float
) -> None:
    found = find_rest(trend(), [100.0], 50.0, before_s, nitrate_s=120.0)
    assert found is not None
    assert found[2] == faults
    assert found[0] == pytest.approx(start_s)


def test_with_a_spasm_test_rest_lies_before_the_first_dose() -> None:
    made = session("spasm", 3, rate_hz=250.0)  # SIMULATED
    first = min(s.time_s for s in made.sheet.spasm_test if s.time_s is not None)
    result = analyse(made.recording, made.sheet)
    rest = next(e for e in result.episodes if e.kind == "rest")
    assert rest.end_s <= first
    truth = made.truth["indices"]["resting_pdpa"]
    assert result.index("resting_pd_pa").value == pytest.approx(truth, abs=0.01)


def test_nitrate_just_before_rest_is_a_caution() -> None:
    made = session("focal", 11, rate_hz=250.0)
    start, end = made.truth["states"]["rest"]["window"]
    sheet = replace(made.sheet, nitrate=Nitrate(dose_ug=200.0, time_s=end - 20.0))
    told = {f.code for f in analyse(made.recording, sheet).findings}
    assert "rest_after_nitrate" in told
    early = replace(made.sheet, nitrate=Nitrate(dose_ug=200.0, time_s=start - 100.0))
    assert "rest_after_nitrate" not in {f.code for f in analyse(made.recording, early).findings}
    assert isinstance(sheet, Sheet)
