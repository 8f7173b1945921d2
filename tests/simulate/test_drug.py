"""Drug and wander carry their state: blocks give the samples of the whole."""

from itertools import pairwise

import numpy as np
import pytest

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
            Patient(), ACTS, t[a:b], 100.0, state=state, wobble=np.zeros(b - a),
            waves=np.ones(b - a),
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


@pytest.mark.parametrize("period_s", [16.0, 24.0, 36.0])
def test_waves_have_their_height_and_period(period_s):
    patient = Patient(drug_wave=0.25, drug_wave_s=period_s)
    t = np.arange(40_000) / 10.0
    row = drug.waves(patient, t, 10.0, [np.random.default_rng(k) for k in (1, 2)])

    up = np.count_nonzero((row[1:] >= 1.0) & (row[:-1] < 1.0))
    assert t[-1] / up == pytest.approx(period_s, rel=0.05)
    assert row.mean() == pytest.approx(1.0, abs=0.01)
    assert row.std() == pytest.approx(0.25 / 2.0**0.5, rel=0.1)
    assert np.array_equal(drug.waves(Patient(), t, 10.0, [np.random.default_rng(1)] * 2), t * 0 + 1)
