"""The whole chain of one bolus at the distal sensor, fitted to the measured drop.

injection (a trapezoid) * transit through a vessel whose wall takes part * sensor lag, on a
straight baseline. All along its way the cold is taken up by the wall at a rate k and given back
with one slow time constant tau, so a slow path loses more than a fast one. In the Laplace domain
that is the transit density at p + k p tau / (1 + p tau) in place of p, whatever the density. What
the wall delays does not belong to the transit: the centroid read is the one with k = 0.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d

from arteriole.recording.channel import Samples
from arteriole.thermo.density import FAMILIES, TWO_PATHS, LaplaceGrid, Spectrum
from arteriole.thermo.descent import Fit, Model, Prior, fit_robustly
from arteriole.thermo.inlet import (
    EDGE_SHARE,
    Injection,
    Pulse,
    injection_spectra,
    moved_spectrum,
)  # fmt: skip

STEP_S = 0.04  # grid of the fit, s; decision 0051
#: Coarseness of any smooth density against a pulsatile flow, share of the local drop; 0051.
SHAPE_SHARE = 0.05
BEAT_S = 0.4  # flow pulses shift parts of the curve by up to this, s; decision 0051
UNEVEN_FROM = 0.2  # of the peak: where unevenness is judged; decision 0051
FLOOR_SHARE = 0.002  # of the peak; decision 0051
#: The wall: rate at which it takes the cold up, 1/s, and its time constant, s. Weak priors: a curve
#: whose tail is in view overrides them; decision 0013.
WALL_PER_S, WALL_PER_S_SD, WALL_PER_S_MOST = 0.20, 0.10, 0.60
WALL_S, WALL_LOG_SD = 2.5, 0.35
#: First-order lag of a wire's temperature sensor, s: the geometric middle of the range in `lag.py`
#: and a width that holds it; decision 0013.
LAG_S, LAG_LOG_SD = 0.11, 0.4
UNEVEN_SD = 0.3  # of tilt and bow; decision 0051
BASELINE_SD_C, BASELINE_SLOPE_SD_C_S = 0.1, 0.01
#: SD over mean of the transit through an epicardial artery, and the SD of its log: where the
#: injection was seen it only forbids absurd tails, else it helps to place it; decision 0050.
RELATIVE_SPREAD, SPREAD_LOG_SD_SEEN, SPREAD_LOG_SD_UNSEEN = 0.39, 0.5, 0.25
#: No transit is briefer than this, s: 1 mL at 5 mL/s; log SD below it. Decision 0055.
BRIEFEST_S, BRIEFEST_LOG_SD = 0.20, 0.3
#: The body of a curve, share of its peak: measured inside, fitted outside; decision 0051.
BODY_FROM, BODY_TO = 0.005, 0.10
PAUSE_S = 1.2  # what comes after this long below is another bolus, s; decision 0051

AREA, MEAN, LOG_SD, SHAPE, LOG_LAG, UPTAKE, LOG_WALL, TILT, BOW, BASE, SLOPE = range(11)
_EVERY = FAMILIES | TWO_PATHS
MOVE, STRETCH = 11, 12  # only where the injection is free


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wash:
    """One fitted chain; times in s from the left edge of the first bin."""

    family: str
    fit: Fit
    zero_s: float  # mean passage of the injectate, as fitted
    moment_s: float  # centroid of the measured body joined to the fitted tail
    transit_sd_s: float  # of moment minus zero, by the fit
    bolus_c: Samples  # without wall and baseline, (n,)
    left_c: Samples  # the same before the sensor's lag, (n,)
    injection: tuple[Pulse, ...]  # as fitted
    slow_c: Samples  # what the wall gives back minus what it takes, (n,)
    base_c: Samples  # (n,)
    misfit: float  # rms residual, share of the peak
    unevenness: float  # rms residual in the body, share of the local drop


def fit_wash(
    drop_c: Samples,
    noise_c: float,
    *,
    injection: Injection,
    family: str,
    begin: Samples | None = None,
) -> Wash:
    """Return the chain of one family fitted to a drop.

    ``drop_c``: shape (n,), °C below a first baseline, bins of ``STEP_S``, NaN = lost;
    ``noise_c``: noise SD of one bin, °C; ``injection``: on the clock of the first bin's left edge;
    ``family``: a key of ``FAMILIES`` or ``TWO_PATHS``; ``begin``: parameters of another family's
    fit to start from.
    """  # fmt: skip
    good = np.isfinite(drop_c)
    y = np.where(good, drop_c, 0.0)
    peak, near = float(y.max()), _spread(y)
    sd = np.sqrt(
        noise_c**2 + (SHAPE_SHARE * np.maximum(near, 0.0)) ** 2 + (FLOOR_SHARE * peak) ** 2
    )
    grid = LaplaceGrid(STEP_S, y.size)
    t = (np.arange(y.size, dtype=np.float64) + 0.5) * STEP_S
    model = _chain(grid, y, np.where(good, 1.0 / sd, 0.0), injection, family)
    prior = _prior(family, injection)
    if begin is None:
        begin = prior.mean.copy()
        body = np.where(y > 0.2 * peak, y, 0.0)
        ahead = max(float((t * body).sum() / body.sum()) - injection.middle_s - LAG_S, 0.1)
        spread = RELATIVE_SPREAD * (0.5 if family in TWO_PATHS else 1.0)
        begin[:3] = y.sum() * STEP_S, ahead, np.log(spread * max(ahead, 0.2))
    else:
        begin = begin.copy()
        begin[SHAPE] = prior.mean[SHAPE]
    fit = fit_robustly(model, begin, prior)
    q = fit.parameters
    bolus, slow, left = _parts(grid, injection, family, q)
    base = q[BASE] + q[SLOPE] * t
    rest = np.where(good, y - bolus - slow - base, 0.0)
    inside = near >= min(UNEVEN_FROM * peak, float(near.max()))
    lag = float(np.exp(q[LOG_LAG]))
    arm = np.zeros(q.size)
    arm[[MEAN, LOG_LAG, TILT]] = 1.0, lag, (1.0 - EDGE_SHARE) * injection.duration_s / 6.0
    inflate = max(1.0, float(np.sqrt(np.mean(fit.residuals**2))))
    moved = float(q[MOVE]) if injection.free else 0.0
    return Wash(
        family=family, fit=fit, zero_s=injection.middle_s + moved,
        moment_s=_moment(bolus, rest, t),
        transit_sd_s=inflate * float(np.sqrt(max(float(arm @ fit.covariance @ arm), 0.0))),
        bolus_c=bolus, slow_c=slow, base_c=base, left_c=left, injection=_placed(injection, q),
        misfit=float(np.sqrt(np.mean(rest**2))) / max(peak, 1e-9),
        unevenness=float(np.sqrt(np.mean((rest / np.maximum(near, 1e-9))[inside] ** 2))),
    )  # fmt: skip


def _chain(
    grid: LaplaceGrid, y: Samples, weight: Samples, injection: Injection, family: str
) -> Model:
    """Return residuals (in SD) and their exact gradients as a function of the parameters."""
    log_density, p = _EVERY[family][0], grid.p
    t = (np.arange(y.size, dtype=np.float64) + 0.5) * STEP_S
    lines = np.stack([np.ones(y.size), t])
    inlets = injection_spectra(p, injection) * grid.mean_over_step

    def model(q: Samples, gradients: bool) -> tuple[Samples, Samples | None]:
        area, mean, slow = float(q[AREA]), float(q[MEAN]), float(np.exp(q[LOG_WALL]))
        wall = 1.0 / (1.0 + p * slow)
        s = p + float(q[UPTAKE]) * (1.0 - wall)
        log_h, by = log_density(s, mean, float(q[LOG_SD]), float(q[SHAPE]))
        lag = float(np.exp(q[LOG_LAG]))
        seen = 1.0 / (1.0 + p * lag)
        if injection.free:
            middle = injection.middle_s + float(q[MOVE])
            length = injection.duration_s * float(np.exp(q[STRETCH]))
            inlet, by_stretch = moved_spectrum(p, middle, length)
            inlet, by_stretch = inlet * grid.mean_over_step, by_stretch * grid.mean_over_step
        else:
            inlet = inlets[0] + q[TILT] * inlets[1] + q[BOW] * inlets[2]
        after = np.exp(log_h) * seen
        unit = after * inlet
        bolus: Spectrum = np.asarray(area * unit, dtype=np.complex128)
        rows: list[Spectrum] = [bolus]
        if gradients:
            # A density is a function of s mean, s SD and its shape: its slope by s is known.
            by_s: Spectrum = bolus * (mean * by[0] + by[1]) / s
            rows += [
                unit, bolus * by[0], bolus * by[1], bolus * by[2], bolus * (-p * lag * seen),
                by_s * (1.0 - wall), by_s * (float(q[UPTAKE]) * p * slow * wall * wall),
                *(area * after * inlets[1:]),
            ]  # fmt: skip
            if injection.free:
                rows += [bolus * -p, area * after * by_stretch]
        signals = grid.back(np.stack(rows))
        residuals = (signals[0] + q[BASE] + q[SLOPE] * t - y) * weight
        held = _held(q, injection.free)
        residuals = np.append(residuals, held[0])
        if not gradients:
            return residuals, None
        jacobian = np.concatenate([signals[1:10], lines, signals[10:]]) * weight
        return residuals, np.concatenate([jacobian, held[1].T], axis=1)

    return model


def _held(q: Samples, free: bool) -> tuple[Samples, Samples]:
    """Return residuals and gradients of what is known of relative spread and briefest transit.

    An injection that is free to move could explain a whole curve with hardly any transit.
    """
    mean = float(q[MEAN])
    log_sd = SPREAD_LOG_SD_UNSEEN if free else SPREAD_LOG_SD_SEEN
    off, by = np.zeros(2), np.zeros((2, q.size))
    off[0] = (float(q[LOG_SD]) - np.log(mean * RELATIVE_SPREAD)) / log_sd
    by[0, LOG_SD], by[0, MEAN] = 1.0 / log_sd, -1.0 / (log_sd * mean)
    if free and mean < BRIEFEST_S:
        off[1] = np.log(mean / BRIEFEST_S) / BRIEFEST_LOG_SD
        by[1, MEAN] = 1.0 / (BRIEFEST_LOG_SD * mean)
    return off, by


def _prior(family: str, injection: Injection) -> Prior:
    _density, shape, shape_sd, shape_low, shape_high = _EVERY[family]
    inf, free = np.inf, injection.free
    uneven = 0.0 if free else 1.0
    rows = [  # mean, SD, lowest, highest
        (0.0, inf, 0.0, 500.0), (0.3, inf, 0.03, 8.0),
        (-1.0, inf, np.log(0.02), np.log(4.0)), (shape, shape_sd, shape_low, shape_high),
        (np.log(LAG_S), LAG_LOG_SD, np.log(0.02), np.log(0.8)),
        (WALL_PER_S, WALL_PER_S_SD, 0.0, WALL_PER_S_MOST),
        (np.log(WALL_S), WALL_LOG_SD, -0.2, np.log(10.0)),
        (0.0, UNEVEN_SD, -uneven, uneven), (0.0, UNEVEN_SD, -uneven, uneven),
        (0.0, BASELINE_SD_C, -3.0, 3.0), (0.0, BASELINE_SLOPE_SD_C_S, -0.3, 0.3),
    ]  # fmt: skip
    if free:
        rows += [(0.0, injection.zero_sd_s, -2.0, 2.0),
                 (0.0, injection.log_duration_sd, -1.2, 1.8)]  # fmt: skip
    mean, sd, lower, upper = (np.array(column) for column in zip(*rows, strict=True))
    return Prior(mean=mean, sd=sd, lower=lower, upper=upper)


def _parts(
    grid: LaplaceGrid, injection: Injection, family: str, q: Samples
) -> tuple[Samples, Samples, Samples]:
    """Return the bolus without wall, what the wall adds, and the first before the sensor's lag.

    Shape (n,) each, °C.
    """
    p = grid.p
    density, shape = _EVERY[family][0], (float(q[MEAN]), float(q[LOG_SD]), float(q[SHAPE]))
    wall = 1.0 / (1.0 + p * float(np.exp(q[LOG_WALL])))
    plain = np.exp(density(p, *shape)[0])
    walled = np.exp(density(p + float(q[UPTAKE]) * (1.0 - wall), *shape)[0])
    if injection.free:
        length = injection.duration_s * float(np.exp(q[STRETCH]))
        inlet = moved_spectrum(p, injection.middle_s + float(q[MOVE]), length)[0]
    else:
        rows = injection_spectra(p, injection)
        inlet = rows[0] + q[TILT] * rows[1] + q[BOW] * rows[2]
    came = float(q[AREA]) * inlet * grid.mean_over_step
    unit = came / (1.0 + p * float(np.exp(q[LOG_LAG])))
    bolus, slow, left = grid.back(np.stack([unit * plain, unit * (walled - plain), came * plain]))
    return bolus, slow, left


def _placed(injection: Injection, q: Samples) -> tuple[Pulse, ...]:
    """Return the injection as the fit has moved and stretched it."""
    if not injection.free:
        return injection.pulses
    half = 0.5 * injection.duration_s * float(np.exp(q[STRETCH]))
    middle = injection.middle_s + float(q[MOVE])
    return ((middle - half, middle + half, 1.0),)


def _spread(y: Samples) -> Samples:
    """Return the highest level within ``BEAT_S`` before or after each bin, smoothed."""
    width = 2 * int(BEAT_S / STEP_S) + 1
    smooth = np.convolve(y, np.full(5, 0.2), "same")
    return np.asarray(maximum_filter1d(smooth, width, mode="nearest"))


def _moment(bolus: Samples, rest: Samples, t: Samples) -> float:
    """Return the centroid of what was measured in the body and of what was fitted outside it."""
    measured = np.convolve(bolus + rest, np.full(3, 1.0 / 3.0), "same")
    top = int(np.argmax(measured))
    low = np.flatnonzero(bolus[:top] < BODY_FROM * bolus.max())
    high = np.flatnonzero(measured[top:] > BODY_TO * measured[top]) + top
    apart = np.flatnonzero(np.diff(high) > int(PAUSE_S / STEP_S))
    left = int(low[-1]) if low.size else 0
    right = int(high[apart[0]] if apart.size else high[-1]) + 1
    joined = bolus.copy()
    joined[left:right] += rest[left:right]
    return float((t * joined).sum() / joined.sum())
