"""Drug and wander carry their state: blocks give the samples of the whole."""

from itertools import pairwise

import numpy as np

from arteriole.simulate import drug
from arteriole.simulate.acts import Adenosine, Flush
from arteriole.simulate.patient import Patient
from arteriole.simulate.wander import wander

ACTS = (
    Flush(start_s=5.0, end_s=7.0, agent="contrast", volume_ml=5.0),
    Adenosine(start_s=30.0, end_s=90.0),
)
CUTS = [0, 1, 333, 5000, 12000]


def level(cuts):
    t = np.arange(12000) / 100.0
    state = np.zeros(drug.STATES)
    parts = [
        drug.dilation(
            Patient(), ACTS, t[a:b], 100.0, state=state, wobble=np.zeros(b - a)
        )[0]
        for a, b in pairwise(cuts)
    ]  # fmt: skip
    return t, np.concatenate(parts)


def test_dilation_in_blocks_is_the_same():
    assert np.array_equal(level([0, 12000])[1], level(CUTS)[1])


def test_wander_in_blocks_is_the_same():
    whole = wander(np.random.default_rng(4), 12000, 100.0, memory_s=9.0, sd=0.1)
    rng, state = np.random.default_rng(4), np.zeros(1)
    parts = [
        wander(rng, b - a, 100.0, memory_s=9.0, sd=0.1, state=state) for a, b in pairwise(CUTS)
    ]

    assert np.array_equal(whole, np.concatenate(parts))


def test_an_infusion_into_a_vein_builds_stands_and_fades():
    t, row = level([0, 12000])

    assert row[np.searchsorted(t, 35.0)] < 0.3
    assert row[np.searchsorted(t, 85.0)] > 0.97
    assert row[np.searchsorted(t, 119.9)] < row[np.searchsorted(t, 90.0)]
