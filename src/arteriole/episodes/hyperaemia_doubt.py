"""Whether hyperaemia was full and even: evidence against it, added up as log odds.

Four measurements bear on it, each on its own scale: what injections still opened, how far the
effect swayed, how slowly it came, how far Pd/Pa itself ranged. Their weights are those of a
logistic regression on simulated sessions, seeds 0-199; decision 0037 has the figures.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from arteriole.episodes.hyperaemia_course import RATIO, Course
from arteriole.episodes.hyperaemia_plateau import Plateau

Verdict = Literal["full", "submaximal", "unsteady", "not seen"]

#: Log-likelihood per beat over no arrival at all; without a drug it stays below. Decision 0036.
SEEN_GAIN = 2.0
#: Weights of the log odds and their constant; decision 0037.
CONSTANT, SWAY, OPENED, OPENED_LATE, WIDTH, RANGE = -11.1, 1.85, 8.0, 5.8, 4.1, 52.0
ODDS_LINE = -0.2  # log odds from which it is said; one clean session in a hundred lies above
#: Log odds from which the state is "not reached" throughout; below, the course tells the states and
#: the caution stands beside them. Decision 0037.
SURE_ODDS = 6.5
OPENED_SPAN, RANGE_SPAN = (-0.2, 0.5), (0.0, 0.1)  # beyond, a sign counts no further
UNSTEADY_RANGE = 0.05  # swing of Pd/Pa on the plateau [HyperaemiaSwing2016]
#: Of the effect, beyond so many of its standard deviations at rest: told beside another fault,
#: and a fault by itself; decision 0037.
SWAYS, SWAYS_DOUBTS = 0.15, 2.0
SWAYS_ALONE, ALONE_DOUBTS = 0.25, 4.0
SWAY_FLOOR, SWAY_UNKNOWN = 0.02, 0.10
SUBMAXIMAL_FROM = 1.2  # of the odds, from what injections still opened


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """The verdict; ``opened`` is the part of the effect that injections still added.

    ``sways``: an uneven effect is among the reasons. ``range_ratio`` is its range in Pd/Pa.
    """

    verdict: Verdict
    odds: float = 0.0
    sways: bool = False
    opened: float | None = None
    range_ratio: float | None = None

    @property
    def never_full(self) -> bool:
        """Whether hyperaemia was short of full for certain, so that no second of it was steady."""
        return self.verdict == "submaximal" and self.odds > SURE_ODDS


def doubt_of(course: Course | None, plateau: Plateau) -> Doubt:
    """Return how hyperaemia stands by the course of the pressures alone."""
    if course is None or course.gain < SEEN_GAIN:
        return Doubt(verdict="not seen")
    opened = _added(plateau.after, plateau.before)
    late = _added(plateau.after, plateau.late)
    sway = SWAY_UNKNOWN if plateau.sway is None else max(plateau.sway, SWAY_FLOOR)
    swing = None if plateau.sway is None else plateau.sway * float(course.fall[RATIO])
    by_opening = OPENED * opened + OPENED_LATE * late
    odds = (
        CONSTANT + SWAY * float(np.log(sway)) + by_opening + WIDTH * float(np.log(course.width_s))
        + RANGE * float(np.clip(swing or 0.0, *RANGE_SPAN))
    )  # fmt: skip
    uneven = (swing or 0.0) > UNSTEADY_RANGE or _beyond(plateau, SWAYS_ALONE, ALONE_DOUBTS)
    verdict: Verdict = "full"
    if odds > ODDS_LINE or uneven:
        verdict = "submaximal" if by_opening > SUBMAXIMAL_FROM else "unsteady"
    return Doubt(
        verdict=verdict, odds=odds, range_ratio=swing,
        sways=verdict != "full" and (uneven or _beyond(plateau, SWAYS, SWAYS_DOUBTS)),
        opened=None if plateau.after is None or plateau.before is None else opened,
    )  # fmt: skip


def _beyond(plateau: Plateau, least: float, doubts: float) -> bool:
    return plateau.sway is not None and plateau.sway > least + doubts * plateau.sway_doubt


def _added(after: float | None, before: float | None) -> float:
    if after is None or before is None:
        return 0.0
    return float(np.clip(after - before, *OPENED_SPAN))
