"""Level of detail is exact: every bin is the true lowest and highest of its samples."""

import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arteriole.recording import Channel
from arteriole.web.bins import MOST_BINS, Bins, bins_between, packed, pyramid_of


def pyramid(values, rate_hz=10.0, start_s=0.0):
    return pyramid_of(
        Channel(name="pa", unit="mmHg", rate_hz=rate_hz, values=np.asarray(values, float),
                start_s=start_s)
    )  # fmt: skip


def samples_of(bins: Bins, k: int, values, rate_hz=10.0):
    first = round(bins.start_s * rate_hz) + k * round(bins.step_s * rate_hz)
    return values[first : first + round(bins.step_s * rate_hz)]


@settings(deadline=None, max_examples=60)
@given(
    n=st.integers(1, 60_000), wanted=st.integers(1, 900), seed=st.integers(0, 99),
    window=st.tuples(st.floats(0, 1), st.floats(0, 1)), lost=st.floats(0, 0.9),
)  # fmt: skip
def test_every_bin_is_the_true_extreme_of_its_samples(n, wanted, seed, window, lost):
    rng = np.random.default_rng(seed)
    values = np.float32(rng.normal(90, 20, n)).astype(float)
    values[rng.random(n) < lost] = np.nan
    a, b = sorted(window)
    bins = bins_between(pyramid(values), a * n / 10, b * n / 10, wanted=wanted)
    if not bins.pairs:
        return
    for k in range(bins.values.size // 2):
        own = samples_of(bins, k, values)
        assert own.size
        low, high = (own[np.isfinite(own)].min(), own[np.isfinite(own)].max()) if (
            np.isfinite(own).any()) else (np.nan, np.nan)  # fmt: skip
        np.testing.assert_array_equal(bins.values[2 * k : 2 * k + 2], [low, high])


@pytest.mark.parametrize("at", [0, 1, 777, 1_000_003, 1_799_999])
def test_one_wild_sample_in_an_hour_is_never_hidden(at):
    values = np.full(1_800_000, 90.0)
    values[at] = 240.0
    bins = bins_between(pyramid(values, 500.0), 0, 3600, wanted=1000)

    assert bins.values.max() == 240.0


def test_bins_cover_the_stretch_with_at_least_as_many_as_wanted():
    bins = bins_between(pyramid(np.arange(100_000.0)), 1000.0, 9000.0, wanted=700)

    assert bins.start_s <= 1000.0
    assert bins.start_s + bins.step_s * bins.values.size / 2 >= 9000.0
    assert 700 <= bins.values.size / 2 <= 1500


def test_bins_stay_in_place_when_the_picture_moves():
    one = pyramid(np.random.default_rng(0).normal(size=200_000))
    a = bins_between(one, 1000.0, 5000.0, wanted=300)
    b = bins_between(one, 1013.7, 5013.7, wanted=300)

    assert a.step_s == b.step_s
    assert ((b.start_s - a.start_s) / a.step_s) == pytest.approx(
        round(1.0 * (b.start_s - a.start_s) / a.step_s)
    )


def test_near_the_samples_themselves_are_sent():
    bins = bins_between(pyramid(np.arange(1000.0)), 10.0, 20.0, wanted=500)

    assert not bins.pairs
    assert bins.values[0] == 100.0
    assert bins.step_s == 0.1


@pytest.mark.parametrize("window", [(-50, -10), (1e6, 2e6), (5.0, 5.0), (9.0, 1.0), (99.95, 1e9)])
def test_stretches_outside_give_no_more_than_what_is_there(window):
    bins = bins_between(pyramid(np.arange(1000.0)), *window, wanted=100)

    assert bins.values.size <= 2


def test_the_number_of_bins_is_limited():
    bins = bins_between(pyramid(np.zeros(2_000_000)), 0, 2e5, wanted=10**9)

    assert bins.values.size <= 4 * MOST_BINS


def test_the_wire_form_is_little_endian_with_a_head_per_channel():
    part = Bins(start_s=1.5, step_s=0.25, pairs=True, values=np.array([1, 2], np.float32))
    wire = packed([part, part])

    assert wire[:8] == struct.pack("<II", 2, 0)
    assert wire[8:32] == struct.pack("<ddII", 1.5, 0.25, 2, 1)
    assert wire[56:64] == struct.pack("<ff", 1.0, 2.0)
    assert len(wire) == 72
