"""The descent on problems with known answers."""

import numpy as np
import pytest

from arteriole.thermo.descent import Prior, fit_robustly

X = np.linspace(0.0, 4.0, 60)


def exponential(y: np.ndarray):
    def model(p, gradients):
        decay = np.exp(-p[1] * X)
        residuals = (p[0] * decay - y) / 0.05
        return residuals, np.stack([decay, -p[0] * X * decay]) / 0.05 if gradients else None

    return model


def free() -> Prior:
    wide = np.array([np.inf, np.inf])
    return Prior(mean=np.zeros(2), sd=wide, lower=np.array([0.0, 0.0]), upper=np.array([9.0, 9.0]))


def test_an_exact_curve_is_found_exactly() -> None:
    fit = fit_robustly(exponential(3.0 * np.exp(-0.7 * X)), np.array([1.0, 2.0]), free())
    assert fit.parameters == pytest.approx([3.0, 0.7], abs=1e-4)
    assert fit.at_limit == ()


def test_outliers_count_little() -> None:
    y = 3.0 * np.exp(-0.7 * X)
    y[10] += 30.0
    fit = fit_robustly(exponential(y), np.array([1.0, 2.0]), free())
    assert fit.parameters == pytest.approx([3.0, 0.7], abs=0.08)


def test_a_limit_that_is_reached_is_named() -> None:
    prior = Prior(mean=np.zeros(2), sd=np.array([np.inf, np.inf]), lower=np.array([0.0, 1.5]),
                  upper=np.array([9.0, 9.0]))  # fmt: skip
    fit = fit_robustly(exponential(3.0 * np.exp(-0.7 * X)), np.array([1.0, 2.0]), prior)
    assert fit.at_limit == (1,)


def test_covariance_is_that_of_linear_least_squares() -> None:
    def line(p, gradients):
        rows = np.stack([np.ones_like(X), X])
        return (p @ rows - 1.0) / 0.1, rows / 0.1 if gradients else None

    fit = fit_robustly(line, np.zeros(2), free())
    rows = np.stack([np.ones_like(X), X])
    assert fit.covariance == pytest.approx(np.linalg.inv(rows @ rows.T) * 0.01, rel=1e-6)


def test_what_a_limit_holds_back_costs_no_trials() -> None:
    y = 3.0 * np.exp(-0.7 * X) + 0.02 * np.sin(40.0 * X)
    seen: list[bool] = []

    def counted(p, gradients):
        seen.append(gradients)
        return exponential(y)(p, gradients)

    prior = Prior(mean=np.zeros(2), sd=np.array([np.inf, np.inf]), lower=np.array([0.0, 1.5]),
                  upper=np.array([9.0, 9.0]))  # fmt: skip
    fit = fit_robustly(counted, np.array([1.0, 2.0]), prior)
    assert fit.parameters[1] == 1.5
    assert fit.at_limit == (1,)
    assert len(seen) <= 2 * fit.steps + 2
