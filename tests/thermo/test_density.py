"""Densities against closed forms; the indicator-dilution theorem on them."""

import numpy as np
import pytest

from arteriole.thermo.density import FAMILIES, TWO_PATHS, LaplaceGrid, density
from thermo.chains import gamma_density

T = np.arange(0.02, 12.0, 0.04)
P = LaplaceGrid(0.04, 300).p


def test_gamma_variate_is_the_textbook_density() -> None:
    # (t-t0)^a exp(-(t-t0)/b): mean t0 + (a+1) b, variance (a+1) b^2 [Thompson1964].
    a, b, t0 = 4.0, 0.16, 0.4
    ours = density(
        "gamma variate", T, mean_s=t0 + (a + 1) * b, sd_s=np.sqrt(a + 1) * b, shape=np.log(a + 1)
    )
    exact = gamma_density(T, t0, a, b)
    assert np.abs(ours - exact).max() < 0.003 * exact.max()


def test_inverse_gaussian_is_the_first_passage_density() -> None:
    # sqrt(l / 2 pi t^3) exp(-l (t-m)^2 / 2 m^2 t), l = k m: the textbook form [Sheppard1962].
    m, k = 1.2, 5.0
    x = T
    exact = np.sqrt(k * m / (2 * np.pi * x**3)) * np.exp(-k * (x - m) ** 2 / (2 * m * x))
    ours = density("inverse gaussian", T, mean_s=m, sd_s=m / np.sqrt(k), shape=np.log(k))
    assert np.abs(ours - exact).max() < 0.003 * exact.max()


def test_lagged_normal_is_a_normal_seen_through_one_exponential() -> None:
    mu, sigma, tau = 1.6, 0.25, 0.4
    fine = np.arange(-2.0, 14.0, 0.002)
    normal = np.exp(-0.5 * ((fine - mu) / sigma) ** 2) / (sigma * np.sqrt(2 * np.pi))
    lag = np.where(fine >= 0.0, np.exp(-np.maximum(fine, 0.0) / tau) / tau, 0.0)
    n = 2 * fine.size
    both = np.fft.irfft(np.fft.rfft(normal, n) * np.fft.rfft(lag, n), n)[: fine.size] * 0.002
    exact = np.interp(T, fine - 2.0, both)  # the lag's own origin lies 2 s into the grid
    variance = sigma**2 + tau**2
    share = tau**2 / variance
    ours = density(
        "lagged normal", T, mean_s=mu + tau, sd_s=np.sqrt(variance),
        shape=np.log(share / (1 - share)),
    )  # fmt: skip
    assert np.abs(ours - exact).max() < 0.01 * exact.max()


@pytest.mark.parametrize("family", list(FAMILIES))
def test_mean_and_sd_are_what_the_parameters_say(family: str) -> None:
    shape = FAMILIES[family][1]
    d = density(family, T, mean_s=1.5, sd_s=0.4, shape=shape)
    mean = (T * d).sum() / d.sum()
    assert d.sum() * 0.04 == pytest.approx(1.0, abs=2e-3)
    assert mean == pytest.approx(1.5, abs=2e-3)
    assert np.sqrt(((T - mean) ** 2 * d).sum() / d.sum()) == pytest.approx(0.4, abs=4e-3)


@pytest.mark.parametrize("family", list(FAMILIES))
def test_gradients_are_exact(family: str) -> None:
    log_h, shape = FAMILIES[family][0], FAMILIES[family][1] + 0.3
    at = np.array([1.3, np.log(0.35), shape])
    _, by = log_h(P, *at)
    for k in range(3):
        step = np.zeros(3)
        step[k] = 1e-6
        difference = (log_h(P, *(at + step))[0] - log_h(P, *(at - step))[0]) / 2e-6
        assert np.abs(difference - by[k]).max() <= 1e-5 * max(np.abs(by[k]).max(), 1.0)


@pytest.mark.parametrize("family", list(FAMILIES))
@pytest.mark.parametrize("lag_s", [0.05, 0.3])
@pytest.mark.parametrize("length_s", [0.4, 1.2])
def test_mean_passage_in_plus_mean_transit_is_mean_passage_out(
    family: str, lag_s: float, length_s: float
) -> None:
    # Indicator-dilution theorem [Meier1954]: means add along a chain whatever the shapes, so
    # (mean out) - (mean in) is volume over flow, here the mean of the transit density plus lag.
    grid = LaplaceGrid(0.04, 400)
    t = (np.arange(400) + 0.0) * 0.04
    log_h, _ = FAMILIES[family][0](grid.p, 0.9, np.log(0.3), FAMILIES[family][1])
    inlet = np.exp(-grid.p * 1.0) * -np.expm1(-grid.p * length_s) / (grid.p * length_s)
    out = grid.back((np.exp(log_h) * inlet / (1.0 + grid.p * lag_s))[None])[0]
    mean_in = 1.0 + 0.5 * length_s
    assert (t * out).sum() / out.sum() - mean_in == pytest.approx(0.9 + lag_s, abs=2e-3)


@pytest.mark.parametrize("family", list(TWO_PATHS))
def test_two_paths_keep_the_mean_and_the_area(family: str) -> None:
    d = density(family, T, mean_s=1.5, sd_s=0.2, shape=-0.4)
    assert d.sum() * 0.04 == pytest.approx(1.0, abs=2e-3)
    assert (T * d).sum() / d.sum() == pytest.approx(1.5, abs=3e-3)


def test_two_paths_are_two_walks_side_by_side() -> None:
    # A third of the flow four times slower: means m/2 and 2 m, so that together they make m.
    share, slower, m, sd = 1.0 / 3.0, 4.0, 1.2, 0.2
    shape, t = float(np.log(3.0)), np.arange(0.0, 12.0, 0.04)
    fast = density("local density random walk", t, mean_s=m / 2, sd_s=sd, shape=shape)
    slow = density("local density random walk", t, mean_s=2 * m, sd_s=slower * sd, shape=shape)
    both = density("two paths, 1 to 4", t, mean_s=m, sd_s=sd, shape=np.log(share / (1 - share)))
    assert both == pytest.approx((1 - share) * fast + share * slow, abs=2e-3 * both.max())


@pytest.mark.parametrize("family", list(TWO_PATHS))
def test_gradients_of_two_paths_are_exact(family: str) -> None:
    at = np.array([0.9, -1.3, 0.4])
    by = TWO_PATHS[family][0](P, *at)[1]
    for k in range(3):
        step = np.zeros(3)
        step[k] = 1e-6
        up, down = (TWO_PATHS[family][0](P, *(at + s * step))[0] for s in (1, -1))
        assert np.abs((up - down) / 2e-6 - by[k]).max() < 1e-6 * np.abs(by[k]).max()


@pytest.mark.parametrize("family", list(FAMILIES | TWO_PATHS))
def test_slope_by_p_follows_from_the_scales(family: str) -> None:
    # H depends on p only through p m and p SD, so p dlogH/dp = m dlogH/dm + dlogH/dlogSD.
    family_density, shape = (FAMILIES | TWO_PATHS)[family][:2]
    at = (0.9, -1.3, shape)
    _, (by_m, by_sd, _) = family_density(P, *at)
    up, down = (family_density(P * (1.0 + e), *at)[0] for e in (1e-6, -1e-6))
    slope = at[0] * by_m + by_sd
    assert np.abs((up - down) / 2e-6 - slope).max() < 1e-6 * np.abs(slope).max()
