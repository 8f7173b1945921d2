"""Robust least squares with priors and exact gradients (Levenberg-Marquardt)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples

#: Residuals beyond this many SD count linearly; [Huber1964] gives 1.345 for 95 % efficiency under
#: pure Gaussian noise; wider, because the scale itself is only known roughly: decision 0051.
HUBER_SD = 3.0
MAX_STEPS = 40
LEAST_DAMPING = 1e-3  # from less it takes many trials to come back after a step too far
NO_GAIN = 3e-4  # relative fall of the parabola that is not worth a trial
ENOUGH_GAIN = 3e-3  # relative fall of the cost below which a further step moves nothing

#: parameters, whether gradients are wanted -> residuals in SD (n,), gradients (p, n) or None
Model = Callable[[Samples, bool], tuple[Samples, Samples | None]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """Independent Gaussian priors and hard limits; an infinite ``sd`` means none."""

    mean: Samples
    sd: Samples
    lower: Samples
    upper: Samples


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Where the descent ended: parameters (p,), covariance (p, p), cost, residuals in SD (n,)."""

    parameters: Samples
    covariance: Samples
    cost: float
    residuals: Samples
    steps: int
    at_limit: tuple[int, ...]


def fit_robustly(model: Model, start: Samples, prior: Prior) -> Fit:
    """Return the minimum of the Huber cost plus the priors' cost, from ``start`` downhill.

    Source: Levenberg-Marquardt with Marquardt's scaling [Marquardt1963]; weights [Huber1964].
    """
    known = np.isfinite(prior.sd)
    weight = np.where(known, 1.0 / prior.sd**2, 0.0)
    mean = np.where(known, prior.mean, 0.0)

    def cost_of(residuals: Samples, p: Samples) -> float:
        a = np.abs(residuals)
        rho = np.where(a > HUBER_SD, 2.0 * HUBER_SD * a - HUBER_SD**2, residuals**2)
        return float(rho.sum() + (weight * (p - mean) ** 2).sum())

    p = np.clip(start, prior.lower, prior.upper)
    residuals, gradients = model(p, True)
    cost, damping, steps = cost_of(residuals, p), 1e-2, 0
    hessian = np.diag(weight)
    diagonal = np.diag_indices(weight.size)
    while steps < MAX_STEPS:
        steps += 1
        assert gradients is not None
        a = np.abs(residuals)
        weighted = gradients * np.where(a > HUBER_SD, HUBER_SD / np.maximum(a, 1e-12), 1.0)
        hessian = weighted @ gradients.T
        hessian[diagonal] += weight
        slope = weighted @ residuals + weight * (p - mean)
        found = False
        # What a limit holds back takes no part in the step.
        held = ((p <= prior.lower) & (slope > 0.0)) | ((p >= prior.upper) & (slope < 0.0))
        size = hessian[diagonal] + 1e-12
        inner = np.where(held[:, None] | held, 0.0, hessian)
        inner[diagonal] += held
        for tries in range(9):
            scaled = inner.copy()
            scaled[diagonal] += np.where(held, 0.0, damping * size)
            step = np.linalg.solve(scaled, np.where(held, 0.0, -slope))
            trial = np.clip(p + step, prior.lower, prior.upper)
            step = trial - p
            fall = -(2.0 * slope + hessian @ step) @ step
            if 0.0 <= fall < NO_GAIN * cost:
                break  # not even the parabola would fall further
            # Most first trials are taken, so their gradients are wanted next.
            trial_residuals, trial_gradients = model(trial, tries == 0)
            trial_cost = cost_of(trial_residuals, trial)
            if trial_cost < cost:
                found = True
                break
            damping *= 6.0
        if not found:
            break
        if trial_gradients is None:
            trial_residuals, trial_gradients = model(trial, True)
        gain, p, cost = cost - trial_cost, trial, trial_cost
        damping = max(damping / 10.0, LEAST_DAMPING)
        residuals, gradients = trial_residuals, trial_gradients
        if gain < ENOUGH_GAIN * cost:
            break
    size = np.sqrt(np.diag(hessian) + 1e-12)
    covariance = np.linalg.pinv(hessian / np.outer(size, size)) / np.outer(size, size)
    edge = (p <= prior.lower) | (p >= prior.upper)
    return Fit(
        parameters=p, covariance=covariance, cost=cost, residuals=residuals, steps=steps,
        at_limit=tuple(int(i) for i in np.flatnonzero(edge)),
    )  # fmt: skip
