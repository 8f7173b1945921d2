"""Pd less its usual beat."""

import numpy as np
import pytest

from arteriole.thermo.level import STEP_S, less_beat, upstrokes
from thermo.test_push import T, distal_pressure

FIRST = round(9.0 / STEP_S)
FINE = round(STEP_S / (T[1] - T[0]))


def binned(pd: np.ndarray) -> np.ndarray:
    return pd[: pd.size // FINE * FINE].reshape(-1, FINE).mean(axis=1)[: round(14.0 / STEP_S)]


@pytest.mark.parametrize("beat_s", [0.45, 0.85, 1.3])
def test_every_beat_has_one_upstroke(beat_s: float) -> None:
    pd = binned(distal_pressure(np.random.default_rng(1), beat_s=beat_s, uneven=0.0))
    at = upstrokes(pd) * STEP_S
    assert np.diff(at) == pytest.approx(beat_s, abs=0.02)
    assert at.size == pytest.approx(14.0 / beat_s, abs=1.5)


def test_a_steady_pressure_leaves_a_level_without_beats() -> None:
    pd = binned(distal_pressure(np.random.default_rng(1), uneven=0.0, breath_mmhg=0.0))
    level = less_beat(pd, FIRST)
    assert level is not None
    assert np.ptp(pd[FIRST:]) > 30.0
    assert float(np.std(level.mmhg)) < 1.2  # beats differ by 2 % of 45 mmHg
    assert level.beats.shape[0] == level.mmhg.size == level.wander.size


def test_what_is_added_to_the_pressure_stays_in_the_level() -> None:
    pd = binned(distal_pressure(np.random.default_rng(1), uneven=0.0, breath_mmhg=0.0))
    more = pd.copy()
    more[FIRST + 50 : FIRST + 80] += 5.0
    plain, raised = less_beat(pd, FIRST), less_beat(more, FIRST)
    assert plain is not None
    assert raised is not None
    step = raised.mmhg - plain.mmhg
    assert float(np.median(step[52:78])) == pytest.approx(5.0, abs=0.5)
    assert float(np.median(step[:48])) == pytest.approx(0.0, abs=0.5)


def test_a_restless_pressure_wanders_more() -> None:
    def wander(uneven: float) -> float:
        pd = binned(distal_pressure(np.random.default_rng(2), uneven=uneven))
        level = less_beat(pd, FIRST)
        assert level is not None
        return float(np.mean(level.wander))

    assert wander(0.15) > wander(0.01)


def test_too_few_beats_before_give_none() -> None:
    pd = binned(distal_pressure(np.random.default_rng(1)))
    assert less_beat(pd, round(1.5 / STEP_S)) is None
    assert less_beat(np.full(700, 80.0), FIRST) is None
