"""Two readings of the same cases: bias, spread and limits of agreement [BlandAltman1986]."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy.special import stdtrit

from arteriole.errors import NotEnoughSignal, OptionError

COVERAGE_95 = 1.96  # normal quantile 0.975, as printed in the papers of limits
LEAST_PAIRS = 3  # fewer give no spread worth a limit; our choice, decision 0067
LIMIT_VARIANCE = 3.0  # variance of a limit is about this times variance / pairs [BlandAltman1986]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Second minus first reading, in the readings' unit, with 95 % intervals of each number."""

    pairs: int
    bias: float
    sd: float

    @property
    def limits(self) -> tuple[float, float]:
        """Return the 95 % limits of agreement: 95 % of differences are expected within."""
        return self.bias - COVERAGE_95 * self.sd, self.bias + COVERAGE_95 * self.sd

    @property
    def bias_interval95(self) -> tuple[float, float]:
        """Return the 95 % interval of the bias."""
        half = self._student() * self.sd / sqrt(self.pairs)
        return self.bias - half, self.bias + half

    @property
    def limit_half95(self) -> float:
        """Return the half-width of the 95 % interval of either limit."""
        return self._student() * self.sd * sqrt(LIMIT_VARIANCE / self.pairs)

    def _student(self) -> float:
        return float(stdtrit(self.pairs - 1, 0.975))


def agreement(first: Sequence[float], second: Sequence[float]) -> Agreement:
    """Return the agreement of two readings of the same cases, in the same order.

    Raises
    ------
    OptionError
        Rows of different length.
    NotEnoughSignal
        Fewer than three pairs.
    """
    if len(first) != len(second):
        raise OptionError(
            f"Readings of {len(first)} and {len(second)} cases were given; pairs are needed; "
            "match them by case first."
        )
    if len(first) < LEAST_PAIRS:
        raise NotEnoughSignal(
            f"{len(first)} pair(s) were given; at least {LEAST_PAIRS} are needed for limits; "
            "add cases."
        )
    apart = np.asarray(second, dtype=np.float64) - np.asarray(first, dtype=np.float64)
    return Agreement(pairs=apart.size, bias=float(apart.mean()), sd=float(apart.std(ddof=1)))
