"""R waves on a synthetic ECG and on open recordings."""

import warnings
from pathlib import Path

import numpy as np
import pytest

from arteriole.signal.r_waves import find_r_waves, waves_per_beat

with warnings.catch_warnings():  # its dependencies warn on import
    warnings.simplefilter("ignore")
    import wfdb

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
open_data = pytest.mark.skipif(
    not DATA.is_dir(), reason="open recordings lie beside the repository"
)


def ecg(times_s: np.ndarray, rate_hz: float, duration_s: float) -> np.ndarray:
    t = np.arange(round(duration_s * rate_hz)) / rate_hz
    row = np.zeros(t.size)
    for at in times_s:
        row += np.exp(-0.5 * ((t - at) / 0.012) ** 2)
        row += 0.25 * np.exp(-0.5 * ((t - at - 0.25) / 0.05) ** 2)
    return row + 0.02 * np.random.default_rng(1).standard_normal(t.size)


@pytest.mark.parametrize("bpm", [40, 80, 180])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_every_r_wave_is_found_whatever_its_sign(bpm: int, sign: float) -> None:
    at = np.arange(1.0, 40.0, 60.0 / bpm)
    found = find_r_waves(sign * ecg(at, 250.0, 41.0), 250.0) / 250.0
    assert found.size == at.size
    assert np.abs(found - at).max() < 0.03


def test_a_beat_with_an_extra_wave_holds_two() -> None:
    start, end = np.array([250, 500, 750]), np.array([500, 750, 1000])
    waves = np.array([200, 450, 560, 700])
    assert waves_per_beat(waves, start, end, 250.0).tolist() == [1, 2, 1]


@open_data
def test_open_intensive_care_ecg_agrees_with_five_detectors() -> None:
    # ../shared/data/README.md check 2: 375 beats by five of six detectors on ECG 2
    x = np.genfromtxt(DATA / "testicu_125hz.csv", delimiter=",", skip_header=1)
    assert abs(find_r_waves(x[:, 1], 125.0).size - 375) <= 2


@open_data
def test_open_ward_ecg_agrees_with_general_detectors() -> None:
    # ../shared/data/README.md check 3: 307 to 308 R waves in lead V
    record = wfdb.rdrecord(str(DATA / "3975656_0015"))
    lead = np.asarray(record.p_signal)[:, record.sig_name.index("V")]
    assert abs(find_r_waves(lead, float(record.fs)).size - 308) <= 4
