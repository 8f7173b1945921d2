"""Trends of clean beats in which the course of a drug is known."""

import numpy as np

from arteriole.episodes.trend import MEDIAN_BEATS, Trend, running_median
from arteriole.recording.channel import Samples

REST_S = (20.0, 40.0, 60.0)
HYPER_S = (145.0, 157.0, 169.0)
FROM_S, FIRST_S, END_S = 70.0, 144.0, 200.0


def arrival(time_s: Samples, mid_s: float = 95.0, width_s: float = 20.0) -> Samples:
    """Return a sigmoid effect, 0 to 1; ``width_s`` from 10 to 90 %."""
    return np.asarray(1.0 / (1.0 + np.exp(-(time_s - mid_s) * 4.394 / width_s)))


def trend(effect: Samples, time_s: Samples, *, fall: float = 0.10, seed: int = 1) -> Trend:
    """Return 0.85 s beats in which Pd/Pa falls by ``fall`` and wave, pressure and rate follow."""
    rng = np.random.default_rng(seed)
    breath = np.sin(2.0 * np.pi * time_s / 4.3)
    pa = 95.0 - 7.0 * effect + 1.5 * breath + rng.normal(0.0, 0.4, time_s.size)
    ratio = 0.94 - fall * effect + rng.normal(0.0, 0.0015, time_s.size)
    return Trend(
        time_s=time_s, ratio=ratio, level=running_median(ratio, MEDIAN_BEATS), pa_mmhg=pa,
        pd_mmhg=pa * ratio, rate_bpm=70.0 + 6.0 * effect + rng.normal(0.0, 1.0, time_s.size),
        shape_mmhg=-0.5 - 30.0 * fall * effect + rng.normal(0.0, 0.05, time_s.size),
    )  # fmt: skip


def beats(until_s: float = END_S) -> Samples:
    """Return the starts of beats every 0.85 s."""
    return np.asarray(np.arange(5.0, until_s, 0.85))
