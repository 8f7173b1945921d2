"""Two readings: bias and limits as published."""

import numpy as np
import pytest

from arteriole.cohort import Agreement, agreement
from arteriole.errors import NotEnoughSignal, OptionError


def test_limits_follow_from_bias_and_sd_as_published():
    # Sonck 2022: manual against motorised -0.01 +/- 0.07; printed -0.14 to 0.12, from unrounded
    low, high = Agreement(pairs=100, bias=-0.01, sd=0.07).limits

    assert (low, high) == (pytest.approx(-0.147, abs=5e-4), pytest.approx(0.127, abs=5e-4))


@pytest.mark.parametrize(("bias", "sd", "low", "high"), [
    (-0.001, 0.018, -0.036, 0.034),  # Johnson 2015: FFR, two repeats, 190 pairs
    (-0.001, 0.021, -0.042, 0.040),  # two wires at once, 2020
])  # fmt: skip
def test_limits_of_other_published_biases(bias, sd, low, high):
    # bias and SD are printed; the limits are computed from them by hand, to 0.001
    got = Agreement(pairs=190, bias=bias, sd=sd).limits

    assert got == (pytest.approx(low, abs=5e-4), pytest.approx(high, abs=5e-4))


def test_bias_and_spread_of_readings_are_found_again():
    rng = np.random.default_rng(3)
    first = rng.uniform(0.6, 1.0, 4000)
    second = first + rng.normal(0.01, 0.02, first.size)
    got = agreement(first.tolist(), second.tolist())

    assert got.bias == pytest.approx(0.01, abs=0.001)
    assert got.sd == pytest.approx(0.02, rel=0.03)
    assert got.bias_interval95[0] < 0.01 < got.bias_interval95[1]


def test_the_intervals_hold_the_truth_as_often_as_they_say():
    # bias 0, SD 1, 20 pairs: 95 % of repeats; the interval of a limit is approximate
    rng = np.random.default_rng(5)
    bias = limit = 0
    for _ in range(1500):
        got = agreement([0.0] * 20, rng.normal(0.0, 1.0, 20).tolist())
        bias += got.bias_interval95[0] <= 0.0 <= got.bias_interval95[1]
        limit += abs(got.limits[1] - 1.96) <= got.limit_half95

    assert bias / 1500 == pytest.approx(0.95, abs=0.02)
    assert limit / 1500 == pytest.approx(0.95, abs=0.03)


def test_unpaired_and_too_few_are_refused():
    with pytest.raises(OptionError, match="3 and 2 cases"):
        agreement([1, 2, 3], [1, 2])
    with pytest.raises(NotEnoughSignal, match="2 pair"):
        agreement([1, 2], [1, 2])
