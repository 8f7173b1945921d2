"""Proven rest: long enough after flushes, steady, and before what changes the artery."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.episodes.rest import Disturbance, choose_rest, doubt_of, find_rest, slope
from arteriole.episodes.trend import Trend
from arteriole.recording.sheet import Nitrate
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
    # 0.0008 per s is 0.02 over 25 s
    found = find_rest(trend(drift_per_s=0.0008), [62.0], 50.0, 130.0)
    assert found is not None
    assert found[2] == ("moving",)
    assert find_rest(trend(drift_per_s=0.0006), [62.0], 50.0, 130.0) == (105.0, 130.0, ())


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


#: As Pa alone shows them: contrast, three injections at rest, the drug's effect from 207 s.
ON_PA = [(59.0, 63.6), (134.0, 137.3), (155.6, 159.7), (175.8, 179.1)]


def test_where_pa_alone_tells_rest_is_the_last_whole_pause() -> None:
    found = choose_rest(trend(), ON_PA, 55.0, 200.0, acts_seen=False)
    assert found == (108.5, 133.5, ())


def test_without_an_effect_of_a_drug_it_is_the_first_whole_pause() -> None:
    # the pause from 179 s on may lie under a drug that the ratio does not show
    late = [*ON_PA, (274.0, 277.0), (286.0, 290.0)]
    found = choose_rest(trend(), late, 55.0, 390.0, acts_seen=False, effect_seen=False)
    assert found == (108.5, 133.5, ())


def test_where_acts_are_known_the_pause_before_them_comes_first() -> None:
    flushes = [(59.0, 63.6), (100.0, 103.0)]
    assert choose_rest(trend(), flushes, 50.0, 150.0, acts_seen=True) == (128.0, 150.0, ())
    # too short there: the pause before, WAIT_S after the wire was placed and after the flush
    found = choose_rest(trend(), flushes, 50.0, 115.0, acts_seen=True)
    assert found == (88.6, 99.5, ())


def test_rest_without_any_proven_pause_is_the_one_longest_after_a_disturbance() -> None:
    close = [(60.0, 63.0), (80.0, 83.0), (110.0, 113.0), (120.0, 123.0)]
    found = choose_rest(trend(), close, 50.0, 130.0, acts_seen=False)
    assert found is not None
    assert found[1:] == (109.5, ("early",))


FLUSH = Disturbance(start_s=61.8, end_s=67.8, words="a flush")


@pytest.mark.parametrize(("rest_s", "told"), [
    ((66.0, 76.0), "overlaps a flush (61.8 to 67.8 s)"),
    ((76.0, 90.0), "begins 8 s after a flush (line: 25 s)"),
    ((93.0, 110.0), None),
])  # fmt: skip
def test_a_rest_near_a_flush_is_early_whoever_chose_it(
    rest_s: tuple[float, float], told: str | None
) -> None:
    assert doubt_of(trend(), rest_s, [FLUSH], 0.0).words.get("early") == told


def test_a_rest_soon_after_the_recording_begins_says_so() -> None:
    words = doubt_of(trend(), (14.0, 19.5), [], 0.0).words["early"]
    assert words.startswith("begins 14 s after the recording (line: 25 s)")
    assert doubt_of(trend(), (26.0, 40.0), [], 0.0).faults == ()


def test_a_rest_that_moves_says_by_how_much() -> None:
    doubt = doubt_of(trend(drift_per_s=-0.00108), (100.0, 125.0), [FLUSH], 0.0)
    assert doubt.faults == ("moving",)
    assert doubt.drift == pytest.approx(-0.027)
    assert "-0.027" in doubt.words["moving"]


@pytest.mark.parametrize(("nitrate_s", "told"), [
    (75.0, "begins 25 s after nitrate (line: 60 s)"), (110.0, "holds the time of nitrate, 110.0 s"),
    (39.0, None), (130.0, None),
])  # fmt: skip
def test_nitrate_has_one_limit(nitrate_s: float, told: str | None) -> None:
    doubt = doubt_of(trend(), (100.0, 125.0), [], 0.0, nitrate_s=nitrate_s)
    assert doubt.words.get("nitrate") == told


def test_nitrate_just_before_rest_is_a_caution_told_once() -> None:
    made = session("focal", 11, rate_hz=250.0)
    start, end = made.truth["states"]["rest"]["window"]
    sheet = replace(made.sheet, nitrate=Nitrate(dose_ug=200.0, time_s=end - 20.0))
    told = [f for f in analyse(made.recording, sheet).findings if f.code == "rest_after_nitrate"]
    assert len(told) == 1
    assert "line: 60 s" in told[0].message
    early = replace(made.sheet, nitrate=Nitrate(dose_ug=200.0, time_s=start - 100.0))
    assert "rest_after_nitrate" not in {f.code for f in analyse(made.recording, early).findings}
