"""The sensor's lag."""

from arteriole.thermo import lag_range_s


def test_the_ratio_a_known_lag_allows_holds_the_true_one() -> None:
    # 0.58 and 0.252 s, ratio 2.3, are read as 0.73 and 0.40 s, ratio 1.8: exact arithmetic.
    rest_s, hyper_s = 0.58 + 0.15, 0.58 / 2.3 + 0.15
    low, high = ((rest_s - lag) / (hyper_s - lag) for lag in lag_range_s(0.15))
    assert 1.8 < low < 2.3 < high


def test_an_unknown_lag_is_a_range() -> None:
    low, high = lag_range_s(None)
    assert 0.0 < low < high
    a, b = lag_range_s(0.15)
    assert low < a < 0.15 < b < high
