"""A dozen SIMULATED sessions without faults: what was put in comes out, within tolerances."""

from functools import cache

import pytest

from arteriole import simulate, study

#: The first twelve seeds whose draw holds no fault; the whole range is in benchmarks/accuracy.py.
SEEDS = [5, 6, 9, 13, 16, 18, 21, 22, 23, 25, 26, 27]


@cache
def studied(seed):
    session = simulate.drawn_session(seed)
    return study.analyse(session.recording, session.sheet), session.truth


@pytest.mark.parametrize("seed", SEEDS)
def test_a_session_is_read_as_it_was_made(seed):
    result, truth = studied(seed)
    t = truth["indices"]
    assert truth["artefacts"] == []

    assert result.simulated
    assert len(result.injections) == len(truth["injections"])
    assert result.gauge.drift.offset_mmhg == pytest.approx(truth["drift_mmHg_at_check"], abs=0.5)
    assert result.index("resting_pd_pa").value == pytest.approx(t["resting_pdpa"], abs=0.012)
    ffr = result.index("ffr_plateau_drift_corrected")
    assert ffr.value is None or ffr.value == pytest.approx(t["ffr"], abs=0.015)
    assert (ffr.value is None) == (ffr.withheld is not None)
