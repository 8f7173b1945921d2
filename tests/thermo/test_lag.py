"""The sensor's lag."""

import pytest

from arteriole.thermo import lag_corrected, lag_range_s, ratio_without_lag


def test_a_lag_is_taken_off_the_mean() -> None:
    got = lag_corrected(1.15, 0.15)
    assert got is not None
    assert got.tmn_s == pytest.approx(1.00)
    assert got.read_s == 1.15


def test_the_ratio_a_known_lag_allows_holds_the_true_one() -> None:
    # 0.58 and 0.252 s, ratio 2.3, are read as 0.73 and 0.40 s, ratio 1.8: exact arithmetic.
    low, high = ratio_without_lag(0.58 + 0.15, 0.58 / 2.3 + 0.15, 0.15)
    assert low < 2.3 < high


def test_an_error_of_time_zero_moves_the_ratio() -> None:
    # 1.00 s and 0.25 s with 0.05 s off both: 4.00 becomes 4.75; exact arithmetic.
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
