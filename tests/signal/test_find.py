"""Beats, landmarks and ratios on pulse trains whose feet are known."""

import numpy as np
import pytest
from pulses import QUANTUM, recording, train

from arteriole.signal import Beats, align, find_beats


def foot_errors(feet: np.ndarray, beats: Beats) -> np.ndarray:
    """Return how late the nearest foot found is, s; the last foot ends the last whole beat."""
    found = np.append(beats.start_s, beats.end_s[-1])
    return np.array([found[np.abs(found - f).argmin()] - f for f in feet[1:-1]])


def found_share(feet: np.ndarray, beats: Beats, within_s: float = 0.03) -> float:
    return float(np.mean(np.abs(foot_errors(feet, beats)) <= within_s))


@pytest.mark.parametrize("bpm", [35, 50, 75, 110, 150, 200])
@pytest.mark.parametrize("rate_hz", [100.0, 250.0, 500.0, 2000.0])
def test_every_beat_from_35_to_200_per_minute_at_100_to_2000_hz(bpm: int, rate_hz: float) -> None:
    p, feet = train(np.full(40, 60.0 / bpm), rate_hz)
    beats = find_beats(align(recording(rate_hz, pa=p)))
    assert found_share(feet, beats) == 1.0
    assert abs(beats.count - 40) <= 1


def test_a_foot_lies_within_20_ms_and_a_notch_within_25_ms() -> None:
    # limits of the open record with author marks, ../shared/data README check 1
    p, feet = train(np.full(60, 0.85), 500.0)
    beats = find_beats(align(recording(500.0, pa=p)))
    assert np.abs(foot_errors(feet, beats)).max() <= 0.020
    notch = (beats.notch_i - beats.start_i)[1:-1] / 500.0
    assert np.abs(notch - 0.34 * np.sqrt(0.85)).max() <= 0.025


def test_atrial_fibrillation_is_followed_beat_by_beat() -> None:
    lengths = np.clip(0.75 * np.exp(0.2 * np.random.default_rng(3).standard_normal(120)), 0.4, 1.4)
    p, feet = train(lengths, 250.0, pulse_mmhg=45.0 * np.clip(lengths / 0.75, 0.6, 1.3))
    assert found_share(feet, find_beats(align(recording(250.0, pa=p)))) >= 0.99


def test_an_early_weak_beat_and_its_pause_are_both_found() -> None:
    lengths = np.full(50, 0.8)
    size = np.full(50, 45.0)
    lengths[[20, 35]], lengths[[21, 36]], size[[21, 36]] = 0.55, 1.05, 30.0
    p, feet = train(lengths, 500.0, pulse_mmhg=size)
    assert found_share(feet, find_beats(align(recording(500.0, pa=p)))) == 1.0


def test_twelve_bit_steps_and_coarser_ones_cost_no_beat() -> None:
    for step in (QUANTUM, 1.0):
        p, feet = train(np.full(40, 0.9), 200.0, quantum=step, noise_mmhg=0.1)
        assert found_share(feet, find_beats(align(recording(200.0, pa=p)))) == 1.0


def test_a_quiet_line_has_no_beats() -> None:
    noise = 0.4 * np.random.default_rng(1).standard_normal(20_000)
    assert find_beats(align(recording(500.0, pa=noise))).count == 0
    assert find_beats(align(recording(500.0, pa=np.full(5000, np.nan)))).count == 0


def test_where_pa_is_lost_pd_gives_the_beats() -> None:
    pa, feet = train(np.full(60, 0.8), 500.0)
    pd, _ = train(np.full(60, 0.8), 500.0, low=70.0, seed=2)
    pa = pa.copy()
    pa[10_000:14_000] = np.nan
    beats = find_beats(align(recording(500.0, pa=pa, pd=pd)))
    assert found_share(feet, beats) >= 0.97
    assert 9 <= int(beats.on_pd.sum()) <= 12
    lost = beats.between(20.5, 27.5)
    assert np.isnan(beats.pa_mean_mmhg[lost]).all()
    assert np.isfinite(beats.pd_mean_mmhg[lost]).all()


@pytest.mark.parametrize("delay_s", [0.0, 0.008, 0.020])
def test_a_delayed_pa_is_aligned_before_any_ratio_within_the_beat(delay_s: float) -> None:
    rate = 500.0
    fine, _ = train(np.full(60, 0.8), rate, noise_mmhg=0.0, quantum=0.0)
    t = np.arange(fine.size) / rate
    rng = np.random.default_rng(5)
    pa = np.interp(t - delay_s, t, fine) + 0.2 * rng.standard_normal(t.size)
    pd = 0.9 * fine + 0.2 * rng.standard_normal(t.size)
    beats = find_beats(align(recording(rate, pa=pa, pd=pd)))
    assert beats.delay_s == pytest.approx(delay_s, abs=0.003)
    inner = slice(2, -2)
    assert np.median(beats.full_cycle[inner]) == pytest.approx(0.9, abs=0.008)
    for ratio in (beats.diastolic, beats.mid_diastolic, beats.late_diastolic):
        assert np.median(ratio[inner]) == pytest.approx(0.9, abs=0.003)


def test_an_offset_of_both_pressures_moves_no_beat() -> None:
    p, _ = train(np.full(40, 0.8), 250.0)
    a = find_beats(align(recording(250.0, pa=p)))
    b = find_beats(align(recording(250.0, pa=p + 20.0)))
    assert np.array_equal(a.start_i, b.start_i)
    assert b.pa_mean_mmhg - a.pa_mean_mmhg == pytest.approx(20.0, abs=1e-9)


def test_whole_beat_means_weighted_by_length_give_the_mean_of_the_stretch() -> None:
    p, _ = train(np.full(40, 0.8), 500.0)
    b = find_beats(align(recording(500.0, pa=p)))
    n = b.end_i - b.start_i
    assert (b.start_i[1:] == b.end_i[:-1]).all()
    assert (b.pa_mean_mmhg * n).sum() / n.sum() == pytest.approx(
        p[b.start_i[0] : b.end_i[-1]].mean(), abs=1e-9
    )
