"""Marks an injection leaves on Pa."""

import numpy as np
import pytest

from arteriole.thermo.pressure_mark import read_pressure_mark

T = np.arange(0.0, 20.0, 0.005)
BEATS = 90.0 + 22.0 * np.sin(2 * np.pi * 1.2 * T) + 8.0 * np.sin(2 * np.pi * 2.4 * T)


def read(pa: np.ndarray):
    return read_pressure_mark(pa, 200.0, start_s=0.0, from_s=5.0, to_s=18.0, near_s=10.4)


def test_a_spike_gives_start_end_and_middle() -> None:
    edge = np.clip((T - 10.0) / 0.1, 0, 1) * np.clip((10.6 - T) / 0.1, 0, 1)
    mark = read(BEATS + 180.0 * edge)
    assert mark is not None
    assert mark.kind == "spike"
    assert mark.zero_s == pytest.approx(10.3, abs=0.05)
    assert mark.end_s - mark.start_s == pytest.approx(0.6, abs=0.12)


@pytest.mark.parametrize("lost", [np.nan, 85.0])
def test_a_lost_stretch_says_roughly_when(lost: float) -> None:
    pa = BEATS.copy()
    pa[(T > 9.6) & (T < 11.3)] = lost
    mark = read(pa)
    assert mark is not None
    assert mark.kind == "lost"
    assert abs(mark.zero_s - 10.3) < 2.0 * mark.zero_sd_s
    assert mark.lost_s == pytest.approx(1.7, abs=0.5)


def test_an_untouched_pressure_shows_no_mark() -> None:
    assert read(BEATS) is None


@pytest.mark.parametrize(("from_s", "to_s"), [(10.2, 18.0), (5.0, 10.3)])
def test_a_spike_that_began_before_the_view_or_outlasts_it_has_no_middle(
    from_s: float, to_s: float
) -> None:
    edge = np.clip((T - 10.0) / 0.1, 0, 1) * np.clip((10.6 - T) / 0.1, 0, 1)
    mark = read_pressure_mark(
        BEATS + 180.0 * edge, 200.0, start_s=0.0, from_s=from_s, to_s=to_s, near_s=10.25
    )
    assert mark is None or (from_s <= mark.start_s and mark.end_s <= to_s)
