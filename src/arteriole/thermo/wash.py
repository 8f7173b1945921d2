"""The whole chain of one bolus at the distal sensor, fitted to the measured drop.

injection (a trapezoid of known start and end) * transit density * sensor lag * wall exchange,
on a straight baseline. The wall takes a share of the cold and gives it back with one slow time
constant; that part does not belong to the transit, so the centroid read is the one before it.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.density import FAMILIES, LaplaceGrid, Spectrum
from arteriole.thermo.descent import Fit, Prior, fit_robustly
from arteriole.thermo.shaft import Pulse

STEP_S = 0.04  # grid of the fit, s; decision 0051
EDGE_SHARE = 0.15  # of the injection's duration, each edge of the trapezoid; decision 0050
#: Coarseness of any smooth density against a pulsatile flow, share of the local drop; 0051.
SHAPE_SHARE = 0.05
BEAT_S = 0.4  # flow pulses shift parts of the curve by up to this, s; decision 0051
FLOOR_SHARE = 0.002  # of the peak; decision 0051
#: The wall: share of the cold it stores and its time constant, s. Weak priors: a curve whose tail
#: is in view overrides them; decision 0052.
WALL_SHARE, WALL_SHARE_SD = 0.10, 0.05
WALL_S, WALL_LOG_SD = 2.5, 0.35
#: First-order lag of a wire's temperature sensor, s: from memory, no source; decision 0052.
LAG_S, LAG_LOG_SD = 0.15, 0.4
UNEVEN_SD = 0.3  # of tilt and bow; decision 0051
BASELINE_SD_C, BASELINE_SLOPE_SD_C_S = 0.1, 0.01

#: The body of a curve, share of its peak: measured inside, fitted outside; decision 0051.
BODY_FROM, BODY_TO = 0.005, 0.10

AREA, MEAN, LOG_SD, SHAPE, LOG_LAG, SHARE, LOG_WALL, TILT, BOW, BASE, SLOPE = range(11)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wash:
    """One fitted chain; times in s from the left edge of the first bin."""

    family: str
    fit: Fit
    centroid_s: float
    centroid_sd_s: float
    moment_s: float  # centroid of the measured body joined to the fitted tail
    bolus_c: Samples  # without wall and baseline, (n,)
    slow_c: Samples  # what the wall gives back minus what it takes, (n,)
    base_c: Samples  # (n,)
    misfit: float  # rms residual, share of the peak


def injection_spectra(p: Spectrum, pulses: tuple[Pulse, ...]) -> Spectrum:
    """Return transforms of a unit trapezoid, of its tilt and of its bow, shape (3, k).

    The cold that enters per time is even (first row) but for a straight tilt x and a bow
    (3 x^2 - 1) / 2 over x = -1..1: flow in the vessel pulses while the syringe empties.
    """
    start_s, end_s = pulses[0][0], pulses[-1][1]
    duration = end_s - start_s
    width = EDGE_SHARE * duration
    half = 0.5 * (duration - width)
    z = p * half
    flat = np.sinh(z) / z
    tilt = flat / z - np.cosh(z) / z
    bow = flat - 3.0 * (np.cosh(z) / z - flat / z) / z
    edge = p * (0.5 * width)
    common = np.exp(-p * (0.5 * (start_s + end_s))) * np.sinh(edge) / edge
    rows = np.stack([flat, tilt, bow]) * common
    if len(pulses) > 1:
        rows[0] = sum(share * injection_spectra(p, ((a, b, 1.0),))[0] for a, b, share in pulses)
    return rows


def fit_wash(
    drop_c: Samples, noise_c: float, *, pulses: tuple[Pulse, ...], family: str,
    begin: Samples | None = None,
) -> Wash:
    """Return the chain of one family fitted to a drop.

    Parameters
    ----------
    drop_c : shape (n,), °C below a first baseline, bins of ``STEP_S``, NaN = lost.
    noise_c : noise SD of one bin, °C.
    pulses : the injection, each (start, end, share), s from the left edge of the first bin.
    begin : parameters of another family's fit to start from.
    """  # fmt: skip
    log_density, shape, shape_sd, shape_low, shape_high = FAMILIES[family]
    bins = drop_c.size
    grid = LaplaceGrid(STEP_S, bins)
    p = grid.p
    inlets = injection_spectra(p, pulses) * grid.mean_over_step
    good = np.isfinite(drop_c)
    y = np.where(good, drop_c, 0.0)
    peak = float(y.max())
    smooth = _spread(y)
    sd = np.sqrt(
        noise_c**2 + (SHAPE_SHARE * np.maximum(smooth, 0.0)) ** 2 + (FLOOR_SHARE * peak) ** 2
    )
    inverse_sd = np.where(good, 1.0 / sd, 0.0)
    t = (np.arange(bins) + 0.5) * STEP_S
    lines = np.stack([np.ones(bins), t])

    def model(q: Samples, gradients: bool) -> tuple[Samples, Samples | None]:
        log_h, by = log_density(p, float(q[MEAN]), float(q[LOG_SD]), float(q[SHAPE]))
        lag, slow = float(np.exp(q[LOG_LAG])), float(np.exp(q[LOG_WALL]))
        seen = 1.0 / (1.0 + p * lag)
        wall = 1.0 / (1.0 + p * slow)
        inlet = inlets[0] + q[TILT] * inlets[1] + q[BOW] * inlets[2]
        after = np.exp(log_h) * seen
        unit = after * inlet
        share = float(q[SHARE])
        through = unit * ((1.0 - share) + share * wall)
        bolus = float(q[AREA]) * through
        rows = [bolus]
        if gradients:
            rows += [
                through, bolus * by[0], bolus * by[1], bolus * by[2],
                bolus * (-p * lag * seen),
                float(q[AREA]) * unit * (wall - 1.0),
                float(q[AREA]) * share * unit * (-p * slow * wall * wall),
                *(float(q[AREA]) * ((1.0 - share) + share * wall) * after * inlets[1:]),
            ]  # fmt: skip
        signals = grid.back(np.stack(rows))
        value = signals[0] + q[BASE] + q[SLOPE] * t
        residuals = (value - y) * inverse_sd
        if not gradients:
            return residuals, None
        return residuals, np.concatenate([signals[1:], lines]) * inverse_sd

    inf = np.inf
    prior = Prior(
        mean=np.array([0, 0, 0, shape, np.log(LAG_S), WALL_SHARE, np.log(WALL_S), 0, 0, 0, 0.0]),
        sd=np.array([inf, inf, inf, shape_sd, LAG_LOG_SD, WALL_SHARE_SD, WALL_LOG_SD, UNEVEN_SD, UNEVEN_SD,
                     BASELINE_SD_C, BASELINE_SLOPE_SD_C_S]),
        lower=np.array([0, -1.0, np.log(0.02), shape_low, np.log(0.02), 0, np.log(0.8), -1, -1, -3, -0.3]),
        upper=np.array([500, 8, np.log(4.0), shape_high, np.log(0.8), 0.45, np.log(10), 1, 1, 3, 0.3]),
    )  # fmt: skip
    middle = sum(share * 0.5 * (a + b) for a, b, share in pulses)
    lever = (1.0 - EDGE_SHARE) * (pulses[-1][1] - pulses[0][0]) / 6.0  # of the tilt on the centroid, s
    if begin is None:
        body = np.where(y > 0.2 * peak, y, 0.0)
        ahead = max(float((t * body).sum() / body.sum()) - middle - LAG_S, 0.1)
        begin = np.array([y.sum() * STEP_S, ahead, np.log(0.35 * max(ahead, 0.2)), shape,
                          np.log(LAG_S), WALL_SHARE, np.log(WALL_S), 0.0, 0.0, 0.0, 0.0])  # fmt: skip
    else:
        begin = begin.copy()
        begin[SHAPE] = shape
    fit = fit_robustly(model, begin, prior)
    q = fit.parameters
    log_h, _ = log_density(p, float(q[MEAN]), float(q[LOG_SD]), float(q[SHAPE]))
    lag = float(np.exp(q[LOG_LAG]))
    inlet = inlets[0] + q[TILT] * inlets[1] + q[BOW] * inlets[2]
    unit = float(q[AREA]) * np.exp(log_h) * inlet / (1.0 + p * lag)
    wall = float(q[SHARE]) * (1.0 / (1.0 + p * float(np.exp(q[LOG_WALL]))) - 1.0)
    signals = grid.back(np.stack([unit, unit * wall]))
    base = q[BASE] + q[SLOPE] * t
    c = fit.covariance
    inflate = max(1.0, float(np.sqrt(np.mean(fit.residuals**2))))
    arm = np.zeros(q.size)
    arm[[MEAN, LOG_LAG, TILT]] = 1.0, lag, lever
    variance = float(arm @ c @ arm)
    difference = np.where(good, signals.sum(axis=0) + base - y, 0.0)
    return Wash(
        family=family, fit=fit, moment_s=_moment(signals[0], -difference, t), centroid_s=middle + float(q[MEAN]) + lag + lever * float(q[TILT]),
        centroid_sd_s=inflate * float(np.sqrt(max(variance, 0.0))),
        bolus_c=signals[0], slow_c=signals[1], base_c=base,
        misfit=float(np.sqrt(np.mean(difference**2))) / max(peak, 1e-9),
    )  # fmt: skip


def _spread(y: Samples) -> Samples:
    """Return the highest level within ``BEAT_S`` before or after each bin, smoothed."""
    width = 2 * int(BEAT_S / STEP_S) + 1
    padded = np.pad(np.convolve(y, np.full(5, 0.2), "same"), width // 2, mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, width).max(axis=1))


def _moment(bolus: Samples, rest: Samples, t: Samples) -> float:
    """Return the centroid of what was measured in the body and of what was fitted outside it."""
    top = int(np.argmax(bolus))
    low = np.flatnonzero(bolus[:top] < BODY_FROM * bolus[top])
    after = np.flatnonzero(bolus[top:] < BODY_TO * bolus[top])
    left = int(low[-1]) if low.size else 0
    right = top + int(after[0]) if after.size else bolus.size
    joined = bolus.copy()
    joined[left:right] += rest[left:right]
    return float((t * joined).sum() / joined.sum())
