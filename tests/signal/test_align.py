"""One grid for all channels."""

import numpy as np
import pytest

from arteriole.errors import UnreadableRecording
from arteriole.recording import Channel, Recording
from arteriole.signal import align


def channel(name: str, rate_hz: float, values: np.ndarray, start_s: float = 0.0) -> Channel:
    return Channel(name=name, unit="mmHg", rate_hz=rate_hz, values=values, start_s=start_s)


def with_channels(*channels: Channel) -> Recording:
    return Recording(name="x", sha256="", format="test", channels=channels)


def test_without_pa_there_is_no_grid_and_the_message_names_what_is_there() -> None:
    with pytest.raises(UnreadableRecording, match="no channel 'pa'; it has: pd"):
        align(with_channels(channel("pd", 100.0, np.zeros(10))))


def test_without_pd_it_is_all_lost_and_the_others_are_none() -> None:
    grid = align(with_channels(channel("pa", 100.0, np.zeros(10))))
    assert np.isnan(grid.pd_mmhg).all()
    assert grid.temp_c is None


def test_a_channel_on_the_same_grid_is_not_touched() -> None:
    x = np.random.default_rng(1).standard_normal(50)
    grid = align(with_channels(channel("pa", 100.0, np.zeros(50)), channel("pd", 100.0, x)))
    assert np.array_equal(grid.pd_mmhg, x)


@pytest.mark.parametrize("rate_hz", [50.0, 125.0, 1000.0])
def test_a_slow_wave_of_another_rate_keeps_its_place(rate_hz: float) -> None:
    n = round(10 * rate_hz)
    wave = np.sin(2 * np.pi * 0.7 * np.arange(n) / rate_hz)
    grid = align(
        with_channels(channel("pa", 250.0, np.zeros(2500)), channel("temp", rate_hz, wave))
    )
    assert grid.temp_c is not None
    t = np.arange(2500) / 250.0
    inner = slice(50, -50)
    assert grid.temp_c[inner] == pytest.approx(np.sin(2 * np.pi * 0.7 * t)[inner], abs=0.01)


def test_resampling_never_crosses_a_gap() -> None:
    x = np.ones(200)
    x[80:120] = np.nan
    grid = align(with_channels(channel("pa", 250.0, np.zeros(1000)), channel("temp", 50.0, x)))
    assert grid.temp_c is not None
    lost = np.isnan(grid.temp_c)
    assert lost[400:595].all()
    assert not lost[:390].any()
    assert not lost[605:990].any()


def test_a_channel_that_starts_late_is_lost_before() -> None:
    grid = align(with_channels(
        channel("pa", 100.0, np.zeros(300)), channel("pd", 100.0, np.ones(100), 1.0)
    ))  # fmt: skip
    assert np.flatnonzero(~np.isnan(grid.pd_mmhg)).tolist() == list(range(100, 200))


def test_infinite_samples_are_lost_samples() -> None:
    x = np.zeros(20)
    x[3] = np.inf
    assert np.isnan(align(with_channels(channel("pa", 100.0, x))).pa_mmhg[3])
