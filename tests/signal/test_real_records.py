"""Real arterial pressures: limits of ../shared/data/README.md, checks 1 to 4."""

import warnings
from pathlib import Path

import numpy as np
import pytest
from pulses import recording

from arteriole.quality import grade
from arteriole.signal import Beats, Grid, align, find_beats

with warnings.catch_warnings():  # its dependencies warn on import
    warnings.simplefilter("ignore")
    import wfdb

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(
    not DATA.is_dir(), reason="the open recordings lie beside the repository, not in it"
)


def read(pa: np.ndarray, rate_hz: float) -> tuple[Grid, Beats]:
    grid = align(recording(rate_hz, pa=np.asarray(pa, dtype=np.float64)))
    return grid, find_beats(grid)


def whole_mean(beats: Beats, use: np.ndarray) -> float:
    n = (beats.end_i - beats.start_i)[use]
    return float((beats.pa_mean_mmhg[use] * n).sum() / n.sum())


def wfdb_pressure(name: str) -> tuple[np.ndarray, float]:
    record = wfdb.rdrecord(str(DATA / name), smooth_frames=False)
    at = [unit.lower() for unit in record.units].index("mmhg")
    return record.e_p_signal[at], record.fs * record.samps_per_frame[at]


def aac(mark: str) -> np.ndarray:
    return np.loadtxt(DATA / f"physionet_aac_0027_10000_{mark}.csv", delimiter=",").ravel()


def test_author_marks_of_the_finger_pressure_are_met() -> None:
    _, beats = read(aac("y"), 1000.0)
    feet = np.append(beats.start_i, beats.end_i[-1])
    for places, mark, limit_ms in (
        (feet, "onset", 20), (beats.peak_i, "sys_peak", 15), (beats.notch_i, "dicr_notch", 25)
    ):  # fmt: skip
        near = np.array([np.abs(places - m).min() for m in aac(mark)])
        assert int((near <= limit_ms).sum()) >= 11, mark
    onset_to_notch_ms = beats.notch_i - beats.start_i
    assert 300 <= float(np.median(onset_to_notch_ms)) <= 350
    diastolic = float(np.average(beats.pa_dia_mean_mmhg, weights=beats.end_i - beats.notch_i))
    assert diastolic == pytest.approx(83.77, abs=0.5)
    assert whole_mean(beats, beats.start_i >= 0) == pytest.approx(88.87, abs=0.5)


@pytest.mark.parametrize(
    ("column", "mean", "systolic", "diastolic"), [(2, 61.70, 99.8, 43.2), (3, 43.44, None, None)]
)
def test_intensive_care_pressures_give_375_beats(
    column: int, mean: float, systolic: float | None, diastolic: float | None
) -> None:
    x = np.genfromtxt(DATA / "testicu_125hz.csv", delimiter=",", skip_header=1)
    grid, beats = read(x[:, column], 125.0)
    assert abs(beats.count + 1 - 375) <= 2  # feet; the last beat is not whole
    assert whole_mean(beats, beats.start_i >= 0) == pytest.approx(mean, abs=0.5)
    if systolic is not None:
        assert float(np.median(beats.pa_systolic_mmhg)) == pytest.approx(systolic, abs=0.5)
        assert float(np.median(beats.pa_diastolic_mmhg)) == pytest.approx(diastolic, abs=0.5)
    assert flagged(grid, beats).mean() <= 0.02


def test_flush_and_zeroing_are_kept_out_of_the_mean() -> None:
    x, rate = wfdb_pressure("3975656_0015")
    grid, beats = read(x, rate)
    quality = grade(grid, beats)
    late = beats.start_s >= 12.0
    assert abs(int(late.sum()) - 296) <= 3
    assert whole_mean(beats, quality.pa_ok) == pytest.approx(96.93, abs=0.5)
    outside = np.flatnonzero((x < 20.0) | (x > 200.0)) / rate
    told = [(s.start_s, s.end_s) for s in quality.spans if s.channel == "pa"]
    named = np.array([any(a - 0.3 <= t <= b + 0.3 for a, b in told) for t in outside])
    assert named.mean() >= 0.95
    assert flagged(grid, beats)[late].mean() <= 0.02
    # A touched line throws spikes at 252.8 s, one pulse per R wave by the record's ECG.
    spike = int(np.flatnonzero(beats.length_s < 0.25)[-1])
    assert float(beats.start_s[spike]) == pytest.approx(252.8, abs=0.2)
    assert set(quality.cause[spike - 1 : spike + 2]) == {"pa_disturbed"}


def test_a_missing_start_is_reported_and_not_filled() -> None:
    x, rate = wfdb_pressure("mixedsignals")
    grid, beats = read(x, rate)
    assert abs(beats.count - 386) <= 8
    assert whole_mean(beats, beats.start_i >= 0) == pytest.approx(109.75, abs=0.5)
    assert float(beats.start_s[0]) >= 1.5
    lost = [f for f in grade(grid, beats).findings if f.code == "signal_lost"]
    assert [f.channel for f in lost] == ["pa"]
    assert lost[0].end_s == pytest.approx(1.54, abs=0.02)
    assert flagged(grid, beats).mean() <= 0.02


def flagged(grid: Grid, beats: Beats) -> np.ndarray:
    """Return the beats called damaged; extra beats of the heart are not damage."""
    q = grade(grid, beats)
    return ~q.pa_ok | np.array([c in ("pa_damped", "pa_ringing") for c in q.cause])
