"""What every index returns: a number with its evidence, or the reason why there is none."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Method = Literal["pressure", "bolus", "continuous"]
Certainty = Literal["clear of the line", "near the line", "cannot say"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Withheld:
    """A number that would mislead is not given: why, and what to do."""

    reason: str
    do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutoff:
    """A published line. ``side`` is where the value as printed lies, None = no side is given.

    ``relation`` reads "value <relation> line means abnormal", e.g. FFR ``<=`` 0.80.
    """

    name: str
    relation: Literal["<=", "<", ">=", ">"]
    value: float
    source: str
    side: Literal["above", "below", "at"] | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """One index of the contract.

    ``inputs``: plain numbers that went in, names with units; ``shares``: share of the variance by
    source, sums to 1; ``alternatives``: other published readings of the same thing, by name.
    ``decimals``: how it is printed; the value as printed decides on which side it lies.
    """

    key: str
    label: str
    unit: str
    method: Method
    value: float | None
    interval95: tuple[float, float] | None
    certainty: Certainty
    formula: str
    source: str
    decimals: int = 2
    inputs: Mapping[str, float] = field(default_factory=dict)
    windows_s: tuple[tuple[float, float], ...] = ()
    beats: int | None = None
    cutoffs: tuple[Cutoff, ...] = ()
    corrected_for: tuple[str, ...] = ()
    shares: Mapping[str, float] = field(default_factory=dict)
    alternatives: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    withheld: Withheld | None = None
