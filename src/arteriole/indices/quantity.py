"""A value with its doubt as draws by source, so that what two inputs share cancels.

A formula is evaluated on the values, on all draws together (interval), and on the draws of one
source at a time (shares), after [JCGM101]. Two quantities made of the same named deviation stay
correlated through every formula. Draws are seeded by a hash of the inputs: same inputs, same
bytes.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.special import ndtr, stdtrit

from arteriole.recording.channel import Samples

LEAST_SHARE = 0.05  # draws of a positive quantity stay above this share of it; decision 0061
COVER = (2.5, 97.5)  # percentiles of a 95 % interval
Formula = Callable[..., Any]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quantity:
    """``value``; ``parts``: deviations by source, each shape (draws,), in the value's unit."""

    value: float
    parts: Mapping[str, Samples] = field(default_factory=dict)
    whole: Samples | None = None  # all sources at once where a formula was not linear

    def draws(self) -> Samples:
        """Return the value with all deviations, shape (draws,) or (1,) when it has no doubt."""
        if self.whole is not None:
            return self.whole
        total = np.array([self.value])
        for part in self.parts.values():
            total = total + part
        return total

    def of(self, source: str) -> Samples | float:
        """Return the value with the deviations of one source alone."""
        part = self.parts.get(source)
        return self.value if part is None else self.value + part

    @property
    def sd(self) -> float:
        """Standard uncertainty, from the draws."""
        return float(np.std(self.draws()))

    def interval95(self) -> tuple[float, float]:
        """Return the 95 % interval; it always holds the value."""
        low, high = np.percentile(self.draws(), COVER)
        return min(float(low), self.value), max(float(high), self.value)

    def shares(self) -> dict[str, float]:
        """Return the share of the variance by source, sum 1; empty without doubt."""
        variance = {name: float(np.var(part)) for name, part in sorted(self.parts.items())}
        total = sum(variance.values())
        return {k: v / total for k, v in variance.items() if v > 0.0} if total > 0.0 else {}


def combine(formula: Formula, *given: Quantity) -> Quantity:
    """Return the formula's value with the doubt of what was given carried through."""
    value = float(formula(*(q.value for q in given)))
    sources = sorted({s for q in given for s in q.parts})
    parts = {s: np.asarray(formula(*(q.of(s) for q in given))) - value for s in sources}
    return Quantity(
        value=value, parts=parts, whole=np.asarray(formula(*(q.draws() for q in given)))
    )


def floored(quantity: Quantity) -> Quantity:
    """Return a positive quantity whose draws stay positive, so that it may stand below a line."""
    floor = LEAST_SHARE * abs(quantity.value)
    parts = {
        s: np.maximum(quantity.value + p, floor) - quantity.value for s, p in quantity.parts.items()
    }
    whole = np.maximum(quantity.draws(), floor)
    return Quantity(value=quantity.value, parts=parts, whole=whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """Named standard deviations to draw from: one name, one row, whatever the order of asking."""

    seed: int
    count: int

    def normal(self, name: str) -> Samples:
        """Return standard normal draws of this name, shape (count,), read-only."""
        return _normal(self.seed, self.count, name)

    def student(self, name: str, degrees: float) -> Samples:
        """Return Student draws of this name, shape (count,), read-only.

        The normal draws of the name, stretched: with more degrees of freedom they stay the same
        draws, so that two trials can be compared.
        """
        return _student(self.seed, self.count, name, degrees)

    def uniform(self, name: str) -> Samples:
        """Return uniform draws of this name in [-1, 1], shape (count,)."""
        return _rng(self.seed, name).uniform(-1.0, 1.0, self.count)


# One name is asked for by many indices, and by many trials of what would flip the statement; a row
# drawn once is the row drawn again, so keeping it changes nothing but time.
@lru_cache(maxsize=256)
def _normal(seed: int, count: int, name: str) -> Samples:
    return _kept(_rng(seed, name).standard_normal(count))


@lru_cache(maxsize=64)
def _student(seed: int, count: int, name: str, degrees: float) -> Samples:
    stretched = stdtrit(degrees, ndtr(_normal(seed, count, name)))
    return _kept(np.asarray(stretched, dtype=np.float64))


def _kept(row: Samples) -> Samples:
    row.flags.writeable = False
    return row


def _rng(seed: int, name: str) -> np.random.Generator:
    return np.random.default_rng([seed, seed_of(name)])


def seed_of(text: str) -> int:
    """Return a seed that is a hash of the text, the same on every machine."""
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
