"""Synthetic pressure pulse trains with known feet; not a model of anything, only a shape."""

from typing import Any

import numpy as np

from arteriole.recording import Channel, Recording

QUANTUM = 330.0 / 4096  # mmHg, 12 bit over -30 to 300


def pulse(t_s: Any, length_s: Any) -> Any:
    """Return a pulse, 0 at the foot, about 1 at the peak; notch at 0.34 times root of length."""
    ejection = 0.34 * np.sqrt(length_s)
    u = t_s / ejection
    rise = np.clip(u / 0.35, 0.0, 1.0)
    up = 0.5 - 0.5 * np.cos(np.pi * rise)
    fall = np.where(u > 0.35, 1.0 - 0.45 * np.clip((u - 0.35) / 0.65, 0.0, 1.0) ** 1.6, 1.0)
    left = 0.55
    after = np.maximum(t_s - ejection, 0.0)
    rest = np.maximum(length_s - ejection, 0.05)
    decay = left * (1.0 - after / rest)
    bump = 0.10 * np.exp(-0.5 * ((after - 0.06) / 0.025) ** 2)
    return np.where(u < 1.0, up * fall, decay + bump * (after > 0.0))


def train(
    lengths_s: Any, rate_hz: float, *, low: float = 75.0, pulse_mmhg: Any = 45.0,
    noise_mmhg: float = 0.25, seed: int = 1, quantum: float = QUANTUM,
) -> tuple[Any, Any]:  # fmt: skip
    """Return (pressure mmHg, feet s) of beats of the given lengths from 0.5 s on."""
    feet = 0.5 + np.concatenate(([0.0], np.cumsum(lengths_s)))
    t = np.arange(round((feet[-1] + 0.3) * rate_hz)) / rate_hz
    k = np.clip(np.searchsorted(feet, t, side="right") - 1, 0, len(lengths_s) - 1)
    inside = (t >= feet[0]) & (t < feet[-1])
    size = np.broadcast_to(np.asarray(pulse_mmhg, dtype=float), (len(lengths_s),))
    p = low + np.where(inside, size[k] * pulse(t - feet[k], np.asarray(lengths_s)[k]), 0.0)
    p = p + noise_mmhg * np.random.default_rng(seed).standard_normal(t.size)
    if quantum:
        p = np.round(p / quantum) * quantum
    return p, feet


def recording(rate_hz: float, **channels: Any) -> Recording:
    """Return a recording of pressures and temperatures of one rate."""
    units = {"temp": "°C", "ecg": "mV"}
    return Recording(
        name="synthetic", sha256="", format="test",
        channels=tuple(
            Channel(name=n, unit=units.get(n, "mmHg"), rate_hz=rate_hz, values=x)
            for n, x in channels.items()
        ),
    )  # fmt: skip
