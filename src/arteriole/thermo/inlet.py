"""The injection as the artery receives it, in the Laplace domain."""

from dataclasses import dataclass

import numpy as np

from arteriole.thermo.density import Spectrum

EDGE_SHARE = 0.15  # of the injection's duration, each raised edge; decision 0050

#: start (s), end (s), share of the injectate
Pulse = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Injection:
    """What is known of one injection; times in s on the clock of its curve.

    ``zero_sd_s`` and ``log_duration_sd`` are 0 where it was seen (shaft, spike) and positive where
    the curve itself must help to place it.
    """

    pulses: tuple[Pulse, ...]
    zero_sd_s: float = 0.0
    log_duration_sd: float = 0.0

    @property
    def free(self) -> bool:
        """Whether the fit may move and stretch it."""
        return self.zero_sd_s > 0.0

    @property
    def middle_s(self) -> float:
        """Mean passage of the injectate, s."""
        return sum(share * 0.5 * (a + b) for a, b, share in self.pulses)

    @property
    def duration_s(self) -> float:
        """From the first start to the last end, s."""
        return self.pulses[-1][1] - self.pulses[0][0]


def injection_spectra(p: Spectrum, injection: Injection) -> Spectrum:
    """Return transforms of a unit trapezoid, of its tilt and of its bow, shape (3, k).

    The cold that enters per time is even (first row) but for a straight tilt x and a bow
    (3 x^2 - 1) / 2 over x = -1..1: flow in the vessel pulses while the syringe empties.
    """
    a, b = injection.pulses[0][0], injection.pulses[-1][1]
    z = p * (0.5 * (1.0 - EDGE_SHARE) * (b - a))
    flat = np.sinh(z) / z
    tilt = (flat - np.cosh(z)) / z
    bow = flat + 3.0 * tilt / z
    edge = p * (0.5 * EDGE_SHARE * (b - a))
    rows = np.stack([flat, tilt, bow]) * (np.exp(-p * (0.5 * (a + b))) * np.sinh(edge) / edge)
    if len(injection.pulses) > 1:
        rows[0] = sum(
            share * moved_spectrum(p, 0.5 * (s + e), e - s)[0] for s, e, share in injection.pulses
        )
    return rows


def moved_spectrum(p: Spectrum, middle_s: float, duration_s: float) -> tuple[Spectrum, Spectrum]:
    """Return the transform of one unit trapezoid and its gradient by the log of its duration."""
    z = p * (0.5 * (1.0 - EDGE_SHARE) * duration_s)
    edge = p * (0.5 * EDGE_SHARE * duration_s)
    flat, ramp = np.sinh(z) / z, np.sinh(edge) / edge
    at = np.exp(-p * middle_s)
    return at * flat * ramp, at * ((np.cosh(z) - flat) * ramp + flat * (np.cosh(edge) - ramp))
