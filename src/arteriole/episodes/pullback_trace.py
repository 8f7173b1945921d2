"""The pullback as it was measured: ratio over place, steps, evenness."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class PullbackStep:
    """One step of the pullback: where (s; mm when the length is known) and how large."""

    start_s: float
    end_s: float
    start_mm: float | None
    end_mm: float | None
    drop: float
    interval95: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullbackTrace:
    """The ratio along the pullback. ``place`` is mm from the guide where known, else s."""

    state: Literal["rest", "hyperaemia"]
    start_s: float
    end_s: float
    place: tuple[float, ...]
    place_unit: Literal["mm", "s"]
    ratio: tuple[float, ...]
    steps: tuple[PullbackStep, ...]
    evenness: float | None
    sentence: str
