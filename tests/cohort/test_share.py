"""Shares of a cohort: published counts give the published per cent."""

import pytest
from scipy.stats import binomtest

from arteriole.cohort import Share
from arteriole.errors import OptionError


@pytest.mark.parametrize(("hits", "of", "percent"), [
    # Matsumura 2017: drifted at the check; ventricularised Pa; distorted Pa
    (108, 616, 17.5), (222, 4217, 5.3), (168, 4217, 4.0),
    # Cook 2016: changed side by +/-2 mmHg: FFR, late-diastolic ratio, resting Pd/Pa
    (94, 447, 21.0), (110, 447, 24.6), (148, 447, 33.1),
    # CONTRAST 2017: analysable late-diastolic ratio, resting Pd/Pa
    (627, 763, 82.2), (733, 763, 96.1),
    # PMID 25366652, 2014: lowest ratio before steady hyperaemia; of those reclassified
    (19, 104, 18.3), (3, 104, 2.9),
])  # fmt: skip
def test_published_counts_give_the_published_per_cent(hits, of, percent):
    share = Share(hits=hits, of=of)

    assert round(100 * share.fraction, 1) == percent
    assert f"{percent:.1f} %" in str(share)


def test_a_misprinted_share_is_seen():
    # doi 10.4244/EIJ-D-18-00064 prints 17 of 95 as 19 %; it is 17.9 %
    assert str(Share(hits=17, of=95)).startswith("17 of 95, 17.9 %")


@pytest.mark.parametrize(("hits", "of"), [(0, 5), (5, 5), (1, 7), (108, 616), (222, 4217)])
def test_the_interval_is_the_exact_binomial_one(hits, of):
    exact = binomtest(hits, of).proportion_ci(0.95, method="exact")

    assert Share(hits=hits, of=of).interval95 == pytest.approx((exact.low, exact.high), abs=1e-9)


@pytest.mark.parametrize(("hits", "of"), [(0, 0), (-1, 4), (5, 4)])
def test_counts_that_make_no_share_are_refused(hits, of):
    with pytest.raises(OptionError, match=f"given {hits} of {of}"):
        Share(hits=hits, of=of)
