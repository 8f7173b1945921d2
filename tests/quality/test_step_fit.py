"""A step of Pd/Pa told from breathing, wandering, a drug and a fluid line that changes."""

from dataclasses import fields, replace
from itertools import product
from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from arteriole.quality import step_fit
from arteriole.quality.ratio_step import detect
from arteriole.quality.scene import Scene
from arteriole.quality.step_fit import FittedStep, fitted_steps
from arteriole.signal import Beats, Grid

ALL, AT, LONG_S = 80, 40, 0.8
BREATH = np.sin(2.0 * np.pi * np.arange(ALL) * LONG_S / 4.1)


def scene_of(mean: np.ndarray, diastolic: np.ndarray, steep: np.ndarray | None = None) -> Scene:
    """Beats of 0.8 s under breathing with the given ratios."""
    n = mean.size
    made: dict[str, Any] = {f.name: np.zeros(n) for f in fields(Beats)}
    start = LONG_S * np.arange(n)
    made |= {"start_s": start, "end_s": start + LONG_S}
    made |= {"pa_dia_mean_mmhg": np.full(n, 75.0), "pd_dia_mean_mmhg": 75.0 * diastolic}
    pa = 90.0 * (1.0 + 0.05 * BREATH[:n])
    made |= {"pa_mean_mmhg": pa, "pd_mean_mmhg": pa * mean, "on_pd": np.zeros(n, dtype=bool)}
    made |= {"rate_hz": 250.0, "delay_s": 0.0, "delay_sd_s": 0.0}
    rows: dict[str, Any] = {
        f.name: np.full(n, 50.0)
        for f in fields(Scene)
        if f.name not in ("grid", "beats", "r_waves")
    }
    if steep is not None:
        rows["pa_sharp_hz"] = steep
    grid = Grid(rate_hz=1.0, start_s=-200.0, pa_mmhg=np.full(500, 90.0), pd_mmhg=np.full(500, 80.0))
    return Scene(grid=grid, beats=Beats(**made), r_waves=None, **rows)


def breathing(
    change: np.ndarray, *, seed: int = 0, noise: float = 0.001, lost: slice = slice(0)
) -> list[FittedStep]:
    """Steps found in 80 beats that breathe; ``change`` is added to Pd/Pa of 0.85."""
    rng = np.random.default_rng(seed)
    mean = 0.85 + 0.004 * BREATH + change + rng.normal(0.0, noise, ALL)
    diastolic = 0.80 + 0.006 * BREATH + 1.2 * change + rng.normal(0.0, 1.5 * noise, ALL)
    sound = np.ones(ALL, dtype=bool)
    sound[lost] = False
    mean[lost], diastolic[lost] = 0.5, np.nan
    return fitted_steps(scene_of(mean, diastolic), sound)


SLIP = (np.arange(ALL) >= AT).astype(float)


@pytest.mark.parametrize("size", [-0.03, 0.009, 0.012, 0.05])
@pytest.mark.parametrize("seed", range(3))
def test_a_step_under_breathing_is_found_where_and_as_large_as_it_is(
    size: float, seed: int
) -> None:
    (step,) = breathing(size * SLIP, seed=seed)
    assert abs(step.after - AT) <= 1
    assert step.size == pytest.approx(size, abs=0.003)


@pytest.mark.parametrize("seed", range(5))
def test_a_slip_under_an_injection_lies_between_the_beats_around_it(seed: int) -> None:
    (step,) = breathing(0.02 * SLIP, seed=seed, lost=slice(AT - 6, AT + 2))
    assert step.before in (AT - 8, AT - 7)  # one sound beat may be left out
    assert step.after in (AT + 2, AT + 3)
    assert step.size == pytest.approx(0.02, abs=0.004)


@pytest.mark.parametrize("seed", range(8))
def test_breathing_alone_is_no_step(seed: int) -> None:
    assert breathing(0.0 * SLIP, seed=seed, noise=0.0015) == []


@pytest.mark.parametrize("seed", range(8))
def test_a_level_that_wanders_at_random_is_no_step(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    assert breathing(np.cumsum(rng.normal(0.0, 0.003, ALL)), seed=seed) == []


@pytest.mark.parametrize("over_beats", [12, 25])
@pytest.mark.parametrize("size", [-0.05, 0.05])
def test_a_drug_that_comes_or_goes_is_no_step(over_beats: int, size: float) -> None:
    ramp = np.clip((np.arange(ALL) - AT) / over_beats, 0.0, 1.0)
    assert breathing(size * ramp) == []


def test_a_fall_needs_more_than_a_rise() -> None:
    """Saline lets Pd/Pa fall at once as well; the same step is told up and not down."""
    (rise,) = breathing(0.009 * SLIP, noise=0.0022)
    assert step_fit.RISE < rise.evidence < step_fit.FALL
    assert breathing(-0.009 * SLIP, noise=0.0022) == []


def test_diastole_alone_tells_a_step_where_whole_beats_are_not_sound() -> None:
    """A range that cuts peaks off makes every beat unsound and leaves diastole."""
    rng = np.random.default_rng(0)
    row = 0.80 + 0.006 * BREATH + 0.03 * SLIP + rng.normal(0.0, 0.0015, ALL)
    (step,) = fitted_steps(scene_of(np.full(ALL, 0.5), row), np.zeros(ALL, dtype=bool))
    assert abs(step.after - AT) <= 1
    assert step.size == pytest.approx(0.03, abs=0.004)


def test_a_step_of_diastole_alone_is_none_where_the_mean_stays_or_the_line_changes() -> None:
    """Air in the line moves Pa's diastole, not its mean; and it makes Pa less steep."""
    rng = np.random.default_rng(0)
    mean = 0.85 + 0.004 * BREATH + rng.normal(0.0, 0.001, ALL)
    diastolic = 0.80 + 0.006 * BREATH + 0.03 * SLIP + rng.normal(0.0, 0.0015, ALL)
    sound = np.ones(ALL, dtype=bool)
    assert fitted_steps(scene_of(mean, diastolic), sound) == []
    softer = 50.0 * np.exp(-0.4 * SLIP)
    restless = mean + 0.02 * SLIP + rng.normal(0.0, 0.012, ALL)  # alone it shows nothing
    (step,) = fitted_steps(scene_of(restless, diastolic), sound)
    assert abs(step.after - AT) <= 1
    assert fitted_steps(scene_of(restless, diastolic, softer), sound) == []
    wide = mean + 0.025 * SLIP  # a wire that slips moves both, whatever the line does
    (step,) = fitted_steps(scene_of(wide, diastolic, softer), sound)
    assert step.size == pytest.approx(0.025, abs=0.004)


def test_a_fall_across_lost_beats_is_none() -> None:
    """Saline that is given there lets Pd/Pa fall by as much (an open session, 0.04)."""
    assert len(breathing(-0.04 * SLIP, lost=slice(AT, AT + 1))) == 1
    assert breathing(-0.04 * SLIP, lost=slice(AT - 4, AT + 2)) == []


@pytest.mark.parametrize(("pa", "rate"), [(0.3, 0.0), (0.0, 0.4)])
def test_a_step_with_one_of_pa_or_of_the_rate_is_none(pa: float, rate: float) -> None:
    """Pressor drugs, pacing and a block of the ostium move Pd/Pa too."""
    rng = np.random.default_rng(0)
    row = 0.85 + 0.03 * SLIP + rng.normal(0.0, 0.001, ALL)
    scene = scene_of(row, row)
    length = LONG_S * np.exp(rate * SLIP)
    start = np.concatenate(([0.0], np.cumsum(length)[:-1]))
    beats = replace(
        scene.beats, start_s=start, end_s=start + length,
        pa_mean_mmhg=scene.beats.pa_mean_mmhg * np.exp(pa * SLIP),
        pd_mean_mmhg=scene.beats.pd_mean_mmhg * np.exp(pa * SLIP),
    )  # fmt: skip
    sound = np.ones(ALL, dtype=bool)
    assert fitted_steps(replace(scene, beats=beats), sound) == []
    assert len(fitted_steps(scene, sound)) == 1


def test_a_sensor_that_comes_in_from_the_air_is_no_step() -> None:
    rng = np.random.default_rng(0)
    row = np.where(SLIP > 0.0, 0.9, 0.1) + rng.normal(0.0, 0.001, ALL)
    assert fitted_steps(scene_of(row, row), np.ones(ALL, dtype=bool)) == []


def test_a_row_too_short_for_both_sides_has_no_step() -> None:
    row = np.repeat([0.8, 0.9], 4)
    assert fitted_steps(scene_of(row, row), np.ones(8, dtype=bool)) == []


def test_the_evidence_is_that_of_the_normal_density_of_a_reference_library() -> None:
    """scipy.stats.multivariate_normal at every size of noise, walk and smooth walk."""
    rng = np.random.default_rng(7)
    t = np.sort(rng.uniform(0.0, 20.0, 14))
    t -= t[0]
    columns = rng.normal(0.0, 0.01, (14, 5))
    step = np.where(np.arange(14) < 6, -0.5, 0.5)
    y = 0.02 * step + 0.003 * rng.normal(size=14)
    walk = np.minimum.outer(t, t)
    smooth = np.array(
        [[min(a, b) ** 2 * (max(a, b) / 2.0 - min(a, b) / 6.0) for a in t] for b in t]
    )
    smooth /= 20.0**3 / 3.0  # of the integral of a random walk; one after 20 s
    best = {False: -np.inf, True: -np.inf}
    size = 0.0
    for s, a, c in product(step_fit.SD, step_fit.WALK, step_fit.SMOOTH):
        cov = s**2 * (np.eye(14) + a * walk + c * smooth) + columns @ columns.T
        inverse = np.linalg.inv(cov)
        here = float(step @ inverse @ y / (step @ inverse @ step))
        normal = multivariate_normal(np.zeros(14), cov)
        best[False] = max(best[False], float(normal.logpdf(y)))
        with_step = float(normal.logpdf(y - here * step))
        if with_step > best[True]:
            best[True], size = with_step, here
    fit = step_fit._evidence(t, y, columns, step)
    assert fit.evidence == pytest.approx(2.0 * (best[True] - best[False]), rel=1e-6)
    assert fit.size == pytest.approx(size, rel=1e-6)


def test_a_finding_tells_between_which_times_where_beats_are_lost() -> None:
    rng = np.random.default_rng(1)
    row = 0.85 + 0.03 * SLIP + rng.normal(0.0, 0.001, ALL)
    sound = np.ones(ALL, dtype=bool)
    (at_once,) = detect(scene_of(row, row), sound).findings
    assert f"at {LONG_S * AT:.1f} s" in at_once.message
    sound[AT - 3 : AT + 3] = False
    (across,) = detect(scene_of(row, np.where(sound, row, np.nan)), sound).findings
    assert f"between {LONG_S * (AT - 3):.1f} and {LONG_S * (AT + 3):.1f} s" in across.message
