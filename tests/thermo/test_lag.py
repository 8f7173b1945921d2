"""The sensor's lag."""

import pytest

from arteriole.thermo import lag_corrected, lag_range_s, ratio_without_lag


def test_a_lag_is_taken_off_the_mean() -> None:
    got = lag_corrected(1.15, 0.15)
    assert got is not None
    assert got.tmn_s == pytest.approx(1.00)
    assert got.read_s == 1.15


def test_a_lag_of_0_15_s_turns_a_ratio_of_2_3_into_1_8() -> None:
    # Exact arithmetic: means add along a chain [Meier1954].
    rest, hyper, lag = 0.70, 0.70 / 2.3, 0.15
    read = (rest + lag) / (hyper + lag)
    assert read == pytest.approx(1.87, abs=0.01)
    low, high = ratio_without_lag(rest + lag, hyper + lag, lag)
    assert low < 2.3 < high


def test_an_error_of_time_zero_moves_the_ratio() -> None:
    # 1.00 s and 0.25 s with 0.05 s off both: 4.00 becomes 4.75; exact arithmetic.
    assert pytest.approx(4.75) == (1.00 - 0.05) / (0.25 - 0.05)
    one, other = lag_corrected(1.00, 0.05), lag_corrected(0.25, 0.05)
    assert one is not None
    assert other is not None
    assert one.tmn_s / other.tmn_s == pytest.approx(4.75)


def test_too_little_left_is_no_value() -> None:
    assert lag_corrected(0.16, 0.15) is None


def test_an_unknown_lag_is_a_range() -> None:
    low, high = lag_range_s(None)
    assert 0.0 < low < high
    a, b = lag_range_s(0.15)
    assert low < a < 0.15 < b < high
