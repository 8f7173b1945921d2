r"""Transit-time densities in the Laplace domain, each with exact gradients.

A bolus seen by the sensor is a chain of convolutions: injection, transit, sensor, wall. In the
Laplace domain it is a product, gradients are products too, and the mean transit is minus the slope
of the logarithm at p = 0, which is the indicator-dilution theorem [Meier1954]: means add along the
chain whatever the shapes are.

Every family is written by its mean m (s), the log of its SD, and one shape number, so that a fit
of one starts a fit of another.
"""

from collections.abc import Callable
from functools import partial

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples

Spectrum = npt.NDArray[np.complex128]
Gradients = tuple[Spectrum, Spectrum, Spectrum]

#: p (k,), mean s, log SD, shape -> log transform and its gradients by the three
Density = Callable[[Spectrum, float, float, float], tuple[Spectrum, Gradients]]


def gamma_variate(p: Spectrum, m: float, log_sd: float, log_k: float) -> tuple[Spectrum, Gradients]:
    """Return log H of a shifted gamma density of shape k = exp(log_k).

    Density (t-t0)^(k-1) exp(-(t-t0)/b) / (b^k Gamma(k)); mean t0 + k b; variance k b^2;
    H = exp(-p t0) (1 + p b)^-k. Source: [Thompson1964].
    """
    sd, k = float(np.exp(log_sd)), float(np.exp(log_k))
    root = float(np.sqrt(k))
    u = 1.0 + p * (sd / root)
    log_u = np.log(u)
    by_sd = sd * p * root * (1.0 - 1.0 / u)
    by_k = k * (p * (sd / (2.0 * root)) - log_u + p * (sd / (2.0 * root)) / u)
    return -p * (m - sd * root) - k * log_u, (-p, by_sd, by_k)


def lagged_normal(p: Spectrum, m: float, log_sd: float, logit: float) -> tuple[Spectrum, Gradients]:
    """Return log H of a normal density seen through one exponential.

    A share q = 1/(1+exp(-logit)) of the variance belongs to the exponential;
    H = exp(-p mu + p^2 sigma^2 / 2) / (1 + p tau), mean mu + tau. Source: [Bassingthwaighte1966].
    """
    sd = float(np.exp(log_sd))
    q = float(1.0 / (1.0 + np.exp(-logit)))
    tau, half = sd * float(np.sqrt(q)), 0.5 * p * p
    u = 1.0 + p * tau
    by_tau = p - p / u
    variance = sd * sd * (1.0 - q)
    by_sd = by_tau * tau + 2.0 * variance * half
    by_logit = q * (1.0 - q) * (by_tau * (sd / (2.0 * float(np.sqrt(q)))) - sd * sd * half)
    return -p * (m - tau) + variance * half - np.log(u), (-p, by_sd, by_logit)


def inverse_gaussian(
    p: Spectrum, m: float, log_sd: float, log_k: float
) -> tuple[Spectrum, Gradients]:
    """Return log H of a shifted first-passage density of shape k = exp(log_k).

    H = exp(-p t0 + k (1 - sqrt(1 + 2 p mu / k))), mean t0 + mu, variance mu^2 / k.
    Source: [Sheppard1962].
    """
    sd, k = float(np.exp(log_sd)), float(np.exp(log_k))
    root = float(np.sqrt(k))
    mu = sd * root
    w = np.sqrt(1.0 + p * (2.0 * mu / k))
    by_mu = p - p / w
    by_k = k * ((1.0 - w) + p * (mu / k) / w + by_mu * (sd / (2.0 * root)))
    return -p * (m - mu) + k * (1.0 - w), (-p, by_mu * mu, by_k)


def local_density_random_walk(
    p: Spectrum, m: float, log_sd: float, log_k: float
) -> tuple[Spectrum, Gradients]:
    """Return log H of a shifted local-density random walk of shape k = exp(log_k).

    H = exp(-p t0 + k (1 - w)) / w with w = sqrt(1 + 2 p mu / k); mean t0 + mu (1 + 1/k),
    variance mu^2 (1/k + 2/k^2). Source: [Bogaard1984], [Sheppard1962].
    """
    sd, k = float(np.exp(log_sd)), float(np.exp(log_k))
    g = 1.0 / k + 2.0 / k**2
    mu = sd / float(np.sqrt(g))
    w = np.sqrt(1.0 + p * (2.0 * mu / k))
    inverse = 1.0 / w
    dw = p * inverse / k  # dw/dmu
    by_mu = p * (1.0 + 1.0 / k) - k * dw - dw * inverse
    dw_k = -dw * (mu / k)
    by_k = -p * (mu / k**2) + (1.0 - w) - k * dw_k - dw_k * inverse
    mu_by_k = 0.5 * mu / g * (1.0 / k**2 + 4.0 / k**3)
    log_h = -p * (m - mu * (1.0 + 1.0 / k)) + k * (1.0 - w) - np.log(w)
    return log_h, (-p, by_mu * mu, k * (by_k + by_mu * mu_by_k))


#: Shape of each of two paths: no more is in one curve; our choice, decision 0013.
PATH_SHAPE = float(np.log(3.0))


def two_paths(
    p: Spectrum, m: float, log_sd: float, logit: float, *, slower: float
) -> tuple[Spectrum, Gradients]:
    """Return log H of two local-density random walks side by side, one ``slower`` times the other.

    A share s = 1/(1+exp(-logit)) of the flow takes the slower path: H = (1-s) H1 + s H2, where
    the SD given is that of the faster path and the mean m is that of both together, so that the
    theorem holds for the sum. Territories with microvascular obstruction fill so [Yew2018].
    """
    s = float(1.0 / (1.0 + np.exp(-logit)))
    mix = 1.0 + s * (slower - 1.0)
    fast, slow = m / mix, m * slower / mix
    log_a, (am, asd, _) = local_density_random_walk(p, fast, log_sd, PATH_SHAPE)
    log_b, (bm, bsd, _) = local_density_random_walk(
        p, slow, log_sd + float(np.log(slower)), PATH_SHAPE
    )
    a, b = np.exp(log_a), np.exp(log_b)
    h = (1.0 - s) * a + s * b
    by_m = ((1.0 - s) * a * am + s * b * bm * slower) / (h * mix)
    by_sd = ((1.0 - s) * a * asd + s * b * bsd) / h
    by_s = (b - a) / h - by_m * (m * (slower - 1.0) / mix)
    return np.log(h), (by_m, by_sd, s * (1.0 - s) * by_s)


#: Families by name with the shape number's prior mean, SD, lowest and highest value. The priors
#: only keep a shape finite where the curve does not say; our choice, decision 0051.
FAMILIES: dict[str, tuple[Density, float, float, float, float]] = {
    "local density random walk": (local_density_random_walk, float(np.log(3.0)), 0.8, -1.5, 5.0),
    "lagged normal": (lagged_normal, 0.0, 1.2, -4.0, 4.0),
    "gamma variate": (gamma_variate, float(np.log(3.0)), 0.8, -1.0, 5.0),
    "inverse gaussian": (inverse_gaussian, float(np.log(3.0)), 0.8, -1.5, 5.0),
}
#: The same for two paths, by how much slower the slow one is; the SD is that of the fast path.
TWO_PATHS: dict[str, tuple[Density, float, float, float, float]] = {
    f"two paths, 1 to {slower:g}": (partial(two_paths, slower=slower), 0.0, 1.2, -4.0, 3.0)
    for slower in (2.5, 4.0)
}


def density(family: str, t_s: Samples, *, mean_s: float, sd_s: float, shape: float) -> Samples:
    """Return the density of a family at equally spaced times, shape (n,), 1/s.

    The inverse transform is numerical (damped Fourier series); good to about 1e-4 of the peak for
    densities that are smooth on the grid.
    """
    step, n = float(t_s[1] - t_s[0]), t_s.size
    grid = LaplaceGrid(step, n)
    of = (FAMILIES | TWO_PATHS)[family][0]
    log_h, _ = of(grid.p, mean_s - float(t_s[0]), float(np.log(sd_s)), shape)
    row: Samples = grid.back(np.exp(log_h)[None])[0]
    return row


class LaplaceGrid:
    """Points p = damping + i omega for a grid of ``bins`` steps, and the way back.

    The damping makes what would wrap around fade by e^-4 over one period, on top of its own decay.
    """

    __slots__ = ("_undo", "bins", "mean_over_step", "p", "period", "step_s")

    def __init__(self, step_s: float, bins: int) -> None:
        """Lay the grid with a period of at least 1.25 times the view, a power of two."""
        self.step_s, self.bins = step_s, bins
        self.period = 1 << int(np.ceil(np.log2(max(1.25 * bins, 64))))
        length = self.period * step_s
        damping = 4.0 / length
        k = np.arange(self.period // 2 + 1, dtype=np.float64)
        self.p: Spectrum = np.asarray(damping + 2j * np.pi * k / length, dtype=np.complex128)
        mean: Spectrum = np.expm1(self.p * step_s) / (self.p * step_s)
        self.mean_over_step = mean
        self._undo = np.exp(damping * step_s * np.arange(bins)) / step_s

    def back(self, spectra: Spectrum) -> Samples:
        """Return the time signals, shape (rows, bins), of transforms of shape (rows, k)."""
        signals: Samples = np.fft.irfft(spectra, self.period, axis=-1)[:, : self.bins] * self._undo
        return signals
