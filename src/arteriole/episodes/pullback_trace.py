"""The pullback as it was measured: ratio over place, steps, evenness."""

from dataclasses import dataclass
from typing import Literal

PullbackPattern = Literal["focal", "mixed", "diffuse", "no clear drop", "not known"]
PullbackCertainty = Literal["clear of the line", "near the line", "cannot say"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PullbackStep:
    """One step of the pullback: where (s; mm when the length is known) and how large.

    ``interval95`` of the drop; ``centre95_mm`` of the place of its middle, for an uneven hand.
    ``would_leave``: the far ratio with this step gone, by simple addition, with the published
    limits of such a prediction; None at rest, where it was not published.
    """

    start_s: float
    end_s: float
    start_mm: float | None
    end_mm: float | None
    drop: float
    interval95: tuple[float, float]
    centre95_mm: tuple[float, float] | None = None
    would_leave: float | None = None
    would_leave95: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullbackTrace:
    """The ratio along the pullback. ``place`` is mm from the guide where known, else s.

    ``evenness``: 1 = drawn back at the speed that the sheet gives, 0.5 = twice or half of it, with
    ``evenness95``; None where it cannot be said, and then ``evenness_reason`` says why and what
    would show it (decision 0029). ``start_seen``: the beginning of the motion left a
    sure trace; else it is the best guess. ``drop_sd``: of the whole drop, from its beats;
    ``drop_beyond``: by how much it is truly larger at least and at most, for what the gauges moved
    between their checks may lie in the pullback or not (decision 0097). ``gradient_index_sd`` holds
    what a told duration that disagrees adds.
    """

    state: Literal["rest", "hyperaemia"]
    start_s: float
    end_s: float
    place: tuple[float, ...]
    place_unit: Literal["mm", "s"]
    ratio: tuple[float, ...]
    steps: tuple[PullbackStep, ...]
    evenness: float | None
    sentence: str
    pattern: PullbackPattern = "not known"
    certainty: PullbackCertainty = "cannot say"
    start_seen: bool = True
    drop_sd: float = 0.006
    mean_speed_mm_s: float | None = None
    evenness95: tuple[float, float] | None = None
    evenness_reason: str = ""
    drop_beyond: tuple[float, float] = (0.0, 0.0)
    gradient_index_sd: float | None = None

    @property
    def apart(self) -> bool:
        """Whether a told duration speaks against the one found, beyond the latter's interval."""
        return self.evenness95 is not None and self.evenness95[1] < 1.0
