"""The gradient index and the profile's shape."""

import numpy as np
import pytest

from arteriole.episodes.pullback_profile import falling, gradient_index


def test_the_printed_example_gives_its_index() -> None:
    # Largest drop over 20 mm 0.20 of 0.30, 30 of 100 mm diseased: (0.667 + 0.7) / 2 = 0.683.
    # Formula [Collet2019], constants from memory.
    place = np.linspace(0.0, 100.0, 1001)
    loss = np.interp(place, [0, 20, 40, 50, 100], [0.0, 0.0, 0.20, 0.30, 0.30])
    index, largest, sick = gradient_index(place, 1.0 - loss)
    assert largest == pytest.approx(0.20, abs=0.002)
    assert sick == pytest.approx(0.30, abs=0.005)
    assert index == pytest.approx(0.683, abs=0.01)


def test_one_short_step_is_more_focal_than_an_even_fall() -> None:
    place = np.linspace(0.0, 80.0, 81)
    step = np.where(place < 40.0, 1.0, 0.7)
    even = 1.0 - 0.3 * place / 80.0
    assert gradient_index(place, step)[0] > 0.9
    assert gradient_index(place, even)[0] < 0.2


def test_no_fall_has_index_zero() -> None:
    place = np.linspace(0.0, 80.0, 81)
    assert gradient_index(place, np.ones(81)) == (0.0, 0.0, 0.0)


def test_the_closest_falling_row_never_rises_and_keeps_the_mean() -> None:
    rng = np.random.default_rng(5)
    raw = np.linspace(1.0, 0.7, 60) + rng.normal(0.0, 0.02, 60)
    smooth = falling(raw)
    assert np.all(np.diff(smooth) <= 0.0)
    assert smooth.mean() == pytest.approx(raw.mean())


def test_a_falling_row_is_left_as_it_is() -> None:
    row = np.linspace(1.0, 0.6, 30)
    assert falling(row) == pytest.approx(row)
