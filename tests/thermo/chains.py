"""Closed-form injections, shafts and drops for the tests of this room; no code of the room."""

import numpy as np

RATE_HZ = 200.0


def times(seconds=30.0, rate_hz=RATE_HZ):
    return np.arange(int(seconds * rate_hz)) / rate_hz


def first_order(x, tau_s, rate_hz=RATE_HZ):
    keep = np.exp(-1.0 / (tau_s * rate_hz))
    out, level = np.empty_like(x), 0.0
    for k, value in enumerate(x):
        level = keep * level + (1.0 - keep) * value
        out[k] = level
    return out


def gamma_density(t, start_s, a, b_s):
    """(t-t0)^a exp(-(t-t0)/b) scaled to unit area: mean t0 + (a+1) b."""
    from math import lgamma

    x = np.maximum(t - start_s, 1e-12)
    log = a * np.log(x) - x / b_s - (a + 1) * np.log(b_s) - lgamma(a + 1)
    return np.where(t > start_s, np.exp(log), 0.0)


def flow(t, start_s, end_s):
    """Injection flow with soft edges, unit volume."""
    edge = 0.15 * (end_s - start_s)
    up = 0.5 - 0.5 * np.cos(np.pi * np.clip((t - start_s) / edge, 0.0, 1.0))
    down = 0.5 - 0.5 * np.cos(np.pi * np.clip((end_s - t) / edge, 0.0, 1.0))
    rate = up * down
    return rate / (rate.sum() * (t[1] - t[0]))


def shaft_drop(t, injection, depth_c=7.0, rewarm_s=1.7, lag_s=0.14, fill=9.0):
    """A well-mixed bore that fills with the volume passed and re-warms, seen through a lag."""
    step, cold = t[1] - t[0], 0.0
    row = np.empty_like(t)
    for k, rate in enumerate(injection):
        cold += step * (rate * fill * (1.0 - cold) - cold / rewarm_s)
        row[k] = depth_c * cold
    return first_order(row, lag_s, 1.0 / step)


def bolus(
    t, start_s=10.0, length_s=0.6, transit_s=0.8, shape=6.0, lag_s=0.15, wall=0.0, wall_s=2.5,
    drop_c=4.0,
):  # fmt: skip
    """Temperature drop at the sensor, injection flow, and the true Tmn (lag left in)."""
    rate = 1.0 / (t[1] - t[0])
    injection = flow(t, start_s, start_s + length_s)
    density = gamma_density(t - t[0], 0.0, shape - 1.0, transit_s / shape)
    n = 2 * t.size
    out = np.fft.irfft(np.fft.rfft(injection, n) * np.fft.rfft(density, n), n)[: t.size] / rate
    seen = first_order(out, lag_s, rate)
    drop = (1.0 - wall) * seen + (wall * first_order(seen, wall_s, rate) if wall else 0.0)
    return drop_c * drop, injection, transit_s + lag_s
