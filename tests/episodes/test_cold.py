"""Where a cold bolus begins, and boluses that follow each other too soon."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from arteriole.episodes.boluses import cold_boluses, find_boluses, phases_by_transit
from arteriole.episodes.cold import find_cold
from arteriole.episodes.find import _lone_pause
from arteriole.recording.channel import Samples
from arteriole.signal import Grid
from arteriole.signal.graded import Quality

RATE = 100.0
T = np.arange(int(400 * RATE)) / RATE
CALM = cast(Quality, SimpleNamespace(spans=()))


def wash(starts: tuple[float, ...], depth_c: float = 5.0, back_s: float = 2.2) -> Samples:
    """A shaft that cools within half a second and re-warms with one time constant."""
    total = np.zeros_like(T)
    for start in starts:
        x = T - start
        fill = np.clip(x / 0.5, 0.0, 1.0) * (x > 0.0)
        total += (depth_c - np.interp(start, T, total)) * np.where(
            x < 0.5, fill, np.exp(-np.maximum(x - 0.5, 0.0) / back_s)
        )
    return -total + np.random.default_rng(2).normal(0.0, 0.01, T.size)


def grid(shaft: Samples | None, temp: Samples) -> Grid:
    flat = np.full(T.size, 90.0)
    return Grid(rate_hz=RATE, start_s=0.0, pa_mmhg=flat, pd_mmhg=flat, temp_c=temp, shaft_c=shaft)


def found(shaft: Samples | None, temp: Samples, placed_s: float = 60.0) -> Any:
    return find_boluses(cold_boluses(grid(shaft, temp), 5.0), CALM, placed_s)


@pytest.mark.parametrize("start", [80.0, 80.37, 81.0])
def test_a_bolus_begins_where_the_temperature_falls(start: float) -> None:
    row = wash((start,))
    (event,) = find_cold(row, grid(None, row), 5.0)
    assert event.start_s == pytest.approx(start, abs=0.1)


@pytest.mark.parametrize("gap_s", [2.7, 3.5, 5.0])
def test_a_bolus_in_the_wake_of_another_begins_at_its_own_fall(gap_s: float) -> None:
    row = wash((80.0, 80.0 + gap_s, 120.0))
    starts = [e.start_s for e in find_cold(row, grid(None, row), 5.0)]
    assert starts == pytest.approx([80.0, 80.0 + gap_s, 120.0], abs=0.12)


def test_an_early_injection_is_found_as_one_of_its_own() -> None:
    starts = (100.0, 103.2, 125.0, 200.0, 212.0, 225.0)
    distal = wash(tuple(s + 0.6 for s in starts), 3.0, 0.7)
    both = found(wash(starts), distal).injections_s
    assert both == pytest.approx(starts, abs=0.12)


def test_two_resting_injections_before_three_are_a_row_and_no_flushes() -> None:
    starts = (100.0, 120.0, 230.0, 245.0, 260.0)
    rows = found(wash(starts), wash(tuple(s + 0.6 for s in starts), 3.0, 0.7))
    assert rows.injections_s == pytest.approx(starts, abs=0.12)
    assert rows.flushes_s == ()


def test_a_single_bolus_well_before_a_row_primes_the_catheter() -> None:
    starts = (80.0, 140.0, 155.0, 170.0)
    rows = found(wash(starts), wash(tuple(s + 0.6 for s in starts), 3.0, 0.7))
    assert rows.injections_s == pytest.approx(starts[1:], abs=0.12)
    assert len(rows.flushes_s) == 1


@pytest.mark.parametrize("before", [(63.0,), (70.0, 95.0)])
def test_boluses_before_an_infusion_are_no_row_and_its_own_falls_no_boluses(
    before: tuple[float, ...],
) -> None:
    infusions, row = ((130.0, 190.0),), (260.0, 280.0, 300.0, 340.0, 352.0, 364.0)
    starts = (*before, 150.0, *row)  # one fall lies in the infusion
    events = cold_boluses(grid(wash(starts), wash(tuple(s + 0.6 for s in starts), 3.0, 0.7)), 5.0)
    told = find_boluses(events, CALM, 60.0, infusions)
    assert told.injections_s == pytest.approx(row, abs=0.12)
    assert len(told.flushes_s) == len(before)


def test_what_an_infusion_fills_is_no_pause_of_the_drug() -> None:
    times = (30.0, 60.0, 321.0, 341.0, 361.0, 458.0, 471.0, 484.0)
    assert _lone_pause(times, ()) == 2
    assert _lone_pause(times, ((75.0, 180.0), (190.0, 310.0))) == 5


def test_an_injection_whose_temperature_was_lost_is_still_found_by_the_shaft() -> None:
    starts = (100.0, 120.0, 140.0)
    distal = wash(tuple(s + 0.6 for s in starts), 3.0, 0.7)
    distal[(T > 119.5) & (T < 125.0)] = np.nan
    assert found(wash(starts), distal).injections_s == pytest.approx(starts, abs=0.12)


def test_a_temperature_that_pulses_gives_no_boluses_beside_real_ones() -> None:
    starts = (100.0, 120.0, 140.0)
    distal = wash(starts, 3.3, 0.7)
    pulsing = (T > 200.0) & (T < 260.0)
    distal = distal - np.where(pulsing, 0.15 * (1.0 - np.cos(2 * np.pi * T / 3.6)), 0.0)
    assert found(None, distal).injections_s == pytest.approx(starts, abs=0.15)


ROW = (100.0, 120.0, 140.0, 230.0, 242.0, 255.0)


@pytest.mark.parametrize(
    ("tmn_s", "hyper"),
    [
        ((0.62, 0.62, 0.60, 0.45, 0.40, 0.36), 3),  # reserve 1.5 behind a gauge that stepped
        ((1.0, 1.1, 0.9, 1.0, 0.95, 1.05), 0),  # no reserve: from the transit nothing is seen
        ((1.0, None, 1.1, 0.5, None, 0.5), 3),
        ((1.0, 1.1, 1.0, 0.5, None, None), 0),  # one curve is not enough
    ],
)
def test_a_pause_after_which_transits_are_shorter_parts_rest_from_hyperaemia(
    tmn_s: tuple[float | None, ...], hyper: int
) -> None:
    phases = phases_by_transit(("rest",) * 6, ROW, tmn_s)
    assert phases == ("rest",) * (6 - hyper) + ("hyperaemia",) * hyper


def test_phases_that_the_pressures_told_are_left_as_they_are() -> None:
    told = ("rest", "rest", "hyperaemia", "hyperaemia", "hyperaemia", "hyperaemia")
    assert phases_by_transit(told, ROW, (1.0, 1.0, 1.0, 0.4, 0.4, 0.4)) == told


def test_a_bolus_lost_in_its_middle_is_one_bolus() -> None:
    # lost just after it begins and seen again at its coldest: what is bridged is no second fall
    temp = wash((120.0, 140.0))
    temp -= np.interp(T, [100.0, 100.35, 103.2, 106.0], [0.0, 0.3, 2.4, 0.0])
    temp[(T > 100.35) & (T < 103.2)] = np.nan
    events = cold_boluses(grid(None, temp), 5.0)
    assert [round(e.start_s) for e in events] == [100, 120, 140]
