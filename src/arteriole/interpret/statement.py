"""The statement of a study: what the numbers are consistent with, and what was not assessed."""

from dataclasses import dataclass
from typing import Literal

Pattern = Literal[
    "obstructive epicardial", "structural microvascular", "functional microvascular",
    "raised resistance, preserved reserve", "epicardial and microvascular", "epicardial spasm",
    "microvascular spasm", "mixed", "spasm test inconclusive", "no abnormality measured",
    "cannot say",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """The pattern, in a sentence that also says what was not assessed."""

    pattern: Pattern
    sentence: str
    because: tuple[str, ...]
    not_assessed: tuple[str, ...]
    rules: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """The smallest change that would turn the statement or an index over its line."""

    what: str
    smallest_change: str
    would_become: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextAct:
    """What would narrow the doubt, by how much, and at what cost."""

    do: str
    gain: str
