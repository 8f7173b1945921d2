"""The pullback: found, placed in time, measured; on SIMULATED sessions and made-up rows."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.episodes import find_episodes
from arteriole.episodes.episode import Episode
from arteriole.episodes.pullback_motion import BINS, lead, waves
from arteriole.episodes.pullback_profile import (
    START_NOT_SEEN,
    gradient_index,
    measure_pullback,
)
from arteriole.episodes.trend import Trend
from arteriole.quality import grade
from arteriole.recording import Recording, Settings, Sheet
from arteriole.recording.sheet import Pullback
from arteriole.signal import align, find_beats
from arteriole.simulate import Session, session
from arteriole.study import analyse


def made(pattern: str, seed: int, *faults: str) -> Session:
    return session(pattern, seed, artefacts=faults, rate_hz=250.0)


@pytest.fixture(scope="module")
def focal() -> Session:
    return made("focal", 7)


@pytest.mark.parametrize(("pattern", "seed"), [("focal", 7), ("diffuse", 8), ("serial", 9)])
def test_both_ends_of_the_motion_are_found(pattern: str, seed: int) -> None:
    one = made(pattern, seed)
    grid = align(one.recording)
    beats = find_beats(grid)
    found = find_episodes(grid, beats, grade(grid, beats), Settings())
    drawn = next(e for e in found.episodes if e.kind == "pullback")
    true = one.truth["pullback"]
    assert drawn.start_s == pytest.approx(true["t0"], abs=7.5)  # the drug wanders too
    assert drawn.end_s == pytest.approx(true["t1"], abs=7.0)


def cut(recording: Recording, seconds: float) -> Recording:
    return replace(recording, channels=tuple(
        replace(c, values=c.values[: round(seconds * c.rate_hz)]) for c in recording.channels
    ))  # fmt: skip


def test_a_recording_that_ends_in_the_vessel_has_no_pullback(focal: Session) -> None:
    short = cut(focal.recording, focal.truth["pullback"]["t0"] - 1.0)
    result = analyse(short, replace(focal.sheet, pullback=Pullback()))
    kinds = {e.kind for e in result.episodes}
    assert not {"pullback", "drift_check"} & kinds
    assert result.gauge.drift.state == "not checked"


def test_a_length_on_the_sheet_tells_of_a_pullback_that_leaves_no_trace() -> None:
    one = made("normal", 12, "eq_offset", "pd_step")
    without = analyse(one.recording, replace(one.sheet, pullback=Pullback()))
    result = analyse(one.recording, one.sheet)
    true = one.truth["drift_mmHg_at_check"]
    assert result.gauge.drift.offset_mmhg == pytest.approx(true, abs=0.5)
    assert "drift_off" in {f.code for f in result.findings}
    assert without.gauge.drift.offset_mmhg is None or without.gauge.drift.offset_mmhg == (
        pytest.approx(true, abs=0.5)
    )


def test_a_later_wave_is_led_less() -> None:
    # Pd = Pa until half of the beats, then Pd comes one bin earlier.
    rng = np.random.default_rng(2)
    pa = np.interp(np.arange(BINS), [0, 3, 8, 27], [80.0, 80.0, 125.0, 88.0])
    rows = np.tile(pa, (60, 1)) + rng.normal(0.0, 0.3, (60, BINS))
    pd = rows.copy()
    pd[30:, :-1] = rows[30:, 1:]
    told = lead(pd - rows + rng.normal(0.0, 0.1, rows.shape), rows)
    assert np.median(told[:30]) == pytest.approx(0.0, abs=0.1)
    assert np.median(told[30:]) > 0.4


def test_waves_are_of_sound_beats_only(focal: Session) -> None:
    grid = align(focal.recording)
    beats = find_beats(grid)
    quality = grade(grid, beats)
    time, gap, pa = waves(grid, beats, quality, 100.0, 130.0)
    assert gap.shape == pa.shape == (time.size, BINS)
    assert np.isfinite(gap).all()
    assert time.size <= int((beats.between(100.0, 130.0) & quality.clean).sum())


def climbing(drop: float, *, at: tuple[float, float] = (60.0, 70.0)) -> Trend:
    """Return a trend that climbs by ``drop`` between two times."""
    time = np.arange(0.0, 110.0, 0.9)
    pa = np.full(time.size, 90.0)
    ratio = np.interp(time, at, [1.0 - drop, 1.0])
    return Trend(
        time_s=time, ratio=ratio, level=ratio, pa_mmhg=pa, pd_mmhg=ratio * pa,
        shape_mmhg=np.zeros(time.size), rate_bpm=np.full(time.size, 66.0),
    )  # fmt: skip


DRAWN = Episode(kind="pullback", start_s=50.0, end_s=80.0, phase="hyperaemia")


def test_a_step_says_what_would_be_left_without_it() -> None:
    # 0.70 at the far end, one step of 0.30: 0.70 + 0.30 = 1.00, limits -0.10 [GradientOutcome2025].
    trace = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0)
    assert trace is not None
    (step,) = trace.steps
    assert step.would_leave == pytest.approx(0.70 + step.drop)
    assert step.would_leave95 == (pytest.approx(step.would_leave - 0.10), 1.0)
    assert step.interval95[0] < step.drop < step.interval95[1]
    assert "would be left" in trace.sentence
    assert "simple addition" in trace.sentence


def test_at_rest_nothing_is_foretold() -> None:
    trace = measure_pullback(climbing(0.30), replace(DRAWN, phase="rest"), 90.0, 0.0)
    assert trace is not None
    assert {s.would_leave for s in trace.steps} == {None}


def test_places_without_a_length_are_times_and_have_no_pattern() -> None:
    trace = measure_pullback(climbing(0.30), DRAWN, None, 0.0)
    assert trace is not None
    assert (trace.place_unit, trace.pattern, trace.certainty) == ("s", "not known", "cannot say")
    assert trace.evenness is None


def test_evenness_by_hand_cannot_be_said_and_says_what_would_show_it() -> None:
    trace = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0)
    assert trace is not None
    assert (trace.evenness, trace.evenness95) == (None, None)
    assert "would show it" in trace.evenness_reason
    assert f"Evenness: cannot say; {trace.evenness_reason}." in trace.sentence


def test_a_focal_drop_is_called_so_and_how_surely() -> None:
    trace = measure_pullback(climbing(0.30, at=(63.0, 67.0)), DRAWN, 90.0, 0.0)
    assert trace is not None
    assert (trace.pattern, trace.certainty) == ("focal", "clear of the line")
    unsure = measure_pullback(
        climbing(0.30), replace(DRAWN, note=START_NOT_SEEN), 90.0, 0.0
    )  # fmt: skip
    assert unsure is not None
    assert unsure.certainty != "near the line"
    assert "no sure trace" in unsure.sentence


def test_the_pattern_is_near_a_limit_where_the_interval_holds_one() -> None:
    # SD 0.06 by hand: an interval of 0.12 on either side; limits 0.47 and 0.73, from memory.
    for at in ((63.0, 67.0), (60.0, 70.0), (55.0, 75.0), (50.0, 80.0), (52.0, 72.0)):
        trace = measure_pullback(climbing(0.30, at=at), DRAWN, 90.0, 0.0)
        assert trace is not None
        index = gradient_index(np.asarray(trace.place), np.asarray(trace.ratio))[0]
        low, high = index - 1.96 * 0.06, index + 1.96 * 0.06
        holds = low <= 0.47 <= high or low <= 0.73 <= high
        assert (trace.certainty == "near the line") == holds
        assert "diffuse up to 0.47, focal from 0.73 (from memory" in trace.sentence
        assert ("near a limit" in trace.sentence) == holds


def test_at_rest_the_pattern_has_no_certainty() -> None:
    at_rest = replace(DRAWN, phase="rest")
    trace = measure_pullback(climbing(0.30, at=(63.0, 67.0)), at_rest, 90.0, 0.0)
    assert trace is not None
    assert (trace.pattern, trace.certainty) == ("focal", "cannot say")
    assert "for rest none is verified" in trace.sentence


def test_all_or_nothing_of_what_the_gauges_moved_may_lie_in_the_pullback() -> None:
    # 6 mmHg down over 300 s, of 90 mmHg: 0.067 at most; half of the even share is taken already.
    trace = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0, drift_mmhg_s=-0.02, moved_mmhg=-6.0)
    still = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0, drift_mmhg_s=-0.02)
    assert trace is not None
    assert still is not None
    low, high = trace.drop_beyond
    assert high - low == pytest.approx(6.0 / 90.0, abs=0.001)
    assert low == pytest.approx(-0.375 / 90.0, abs=0.0005)
    assert trace.ratio == still.ratio
    assert trace.steps[0].interval95[1] > still.steps[0].interval95[1] + 0.03


def test_a_motor_gives_the_length_and_how_even_it_was() -> None:
    alone = measure_pullback(climbing(0.30), DRAWN, None, 0.0, speed_mm_s=2.0)
    both = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0, speed_mm_s=2.0)
    assert alone is not None
    assert both is not None
    assert alone.place[-1] == pytest.approx(60.0)  # 2 mm/s for 30 s
    assert both.evenness == pytest.approx(30.0 / 45.0)  # 45 s were told, 30 s were found
    # 95 % of durations are found within 9 s: 21 to 39 s.
    assert both.evenness95 == (pytest.approx(21.0 / 45.0), pytest.approx(39.0 / 45.0))
    assert "67 % (47 to 87 %)" in both.sentence
    assert both.apart
    assert both.certainty == "cannot say"
    assert both.gradient_index_sd is not None
    assert both.gradient_index_sd > 0.06
    near = measure_pullback(climbing(0.30), DRAWN, 66.0, 0.0, speed_mm_s=2.0)  # 33 s told
    assert near is not None
    assert near.evenness95 is not None
    assert near.evenness95[1] == 1.0
    assert not near.apart
    assert near.gradient_index_sd == 0.06
    # A length that comes from the speed agrees with itself: that proves nothing.
    assert alone.evenness is None
    assert "comes from the motor's speed itself" in alone.evenness_reason
    unseen = replace(DRAWN, note=START_NOT_SEEN, start_s=58.0)
    told = measure_pullback(climbing(0.30), unseen, 60.0, 0.0, speed_mm_s=2.0)
    assert told is not None
    assert told.start_s == pytest.approx(50.0)
    assert told.start_seen


def test_no_drop_has_no_index() -> None:
    one = made("normal", 12)
    result = analyse(one.recording, replace(one.sheet, pullback=Pullback(length_mm=80.0)))
    drop, index = result.index("pullback_drop"), result.index("pullback_gradient_index")
    assert drop.value is not None
    if drop.value < 0.009:  # three times the least doubt
        assert index.value is None
        assert index.withheld is not None


def test_a_sheet_without_pullback_keeps_what_is_seen(focal: Session) -> None:
    result = analyse(focal.recording, Sheet())
    assert result.pullback is not None
    assert result.pullback.place_unit == "s"
    assert result.index("pullback_gradient_index").value is None


def test_half_of_what_the_gauge_drifts_meanwhile_is_taken_off() -> None:
    # 0.02 mmHg/s over the 30 s and the 7.5 s before: Pd read 0.75 mmHg too high at the far end if
    # it fell evenly; half of it, 0.375 of 90 mmHg, is 0.004 of the drop.
    plain = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0)
    drifting = measure_pullback(climbing(0.30), DRAWN, 90.0, 0.0, drift_mmhg_s=-0.02)
    assert plain is not None
    assert drifting is not None
    more = drifting.ratio[0] - drifting.ratio[-1] - (plain.ratio[0] - plain.ratio[-1])
    assert more == pytest.approx(0.004, abs=0.0006)
    assert drifting.drop_sd > plain.drop_sd


def test_a_step_has_a_place_with_an_interval() -> None:
    trace = measure_pullback(climbing(0.30, at=(63.0, 67.0)), DRAWN, 90.0, 0.0)
    assert trace is not None
    (step,) = trace.steps
    low, high = step.centre95_mm or (0.0, 0.0)
    # 65 s is half of the way from 50 to 80 s: 45 of 90 mm.
    assert low < 45.0 < high
    assert high - low == pytest.approx(2 * 1.96 * 8.0, abs=0.1)
    assert step.drop == pytest.approx(0.30, abs=0.02)
    nowhere = measure_pullback(climbing(0.30, at=(63.0, 67.0)), DRAWN, None, 0.0)
    assert nowhere is not None
    assert {s.centre95_mm for s in nowhere.steps} == {None}


@pytest.mark.parametrize("length_mm", [None, 85.0])
@pytest.mark.parametrize(("pattern", "seed"), [("focal", 1), ("normal", 3)])
def test_a_fading_hyperaemia_is_no_pullback(
    pattern: str, seed: int, length_mm: float | None
) -> None:
    # One dose into the artery fades by itself; the recording ends with the sensor in the vessel.
    one = session(pattern, seed, route="intracoronary", rate_hz=250.0)
    check = next(e for e in one.truth["events"] if e["kind"] == "drift_check")
    short = cut(one.recording, check["t0"] - 1.0)
    result = analyse(short, replace(one.sheet, pullback=Pullback(length_mm=length_mm)))
    assert not {"pullback", "drift_check"} & {e.kind for e in result.episodes}
    assert result.gauge.drift.state == "not checked"
