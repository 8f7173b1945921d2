import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from arteriole.figure.decimate import MOST_POINTS, extremes


@given(st.integers(1, 60_000), st.integers(0, 2**31))
def test_extremes_keep_the_peaks_and_never_exceed_the_limit(n, seed):
    v = np.random.default_rng(seed).normal(size=n)
    t, out = extremes(np.arange(n) / 500.0, v)
    assert out.size <= MOST_POINTS
    assert np.nanmax(out) == v.max()
    assert np.nanmin(out) == v.min()
    assert (np.diff(t) >= 0).all()
    assert np.isin(out[np.isfinite(out)], v).all()


def test_a_gap_stays_a_gap():
    v = np.zeros(100_000)
    v[40_000:60_000] = np.nan
    t, out = extremes(np.arange(v.size) / 500.0, v)
    assert np.isnan(out[(t > 82) & (t < 118)]).all()
    assert np.isfinite(out[(t < 79) | (t > 121)]).all()
