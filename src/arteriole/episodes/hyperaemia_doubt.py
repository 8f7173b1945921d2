"""Whether hyperaemia was full and even: evidence against it, added up as log odds.

Five measurements bear on it, each on its own scale: what injections still opened, how much likelier
a wide wander and how much likelier regular waves are than ordinary wander, how slowly the effect
came, how far Pd/Pa itself swung; all count for more where the arrival stood out clearly. Their
weights are those of a logistic regression on simulated sessions; decisions 0039, 0092.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from arteriole.episodes.hyperaemia_course import Course
from arteriole.episodes.hyperaemia_plateau import Plateau
from arteriole.episodes.hyperaemia_waves import Waves

Verdict = Literal["full", "submaximal", "unsteady", "not seen"]

#: Log-likelihood per beat over no arrival at all; without a drug it stays below. Decision 0036.
SEEN_GAIN = 2.0
#: Log odds that hyperaemia was not full or not even: constant and weights; decision 0092.
CONSTANT, WIDE, REGULAR = -15.0, 0.31, 0.44
OPENED, WIDTH, SWING, SEEN = 6.8, 3.55, 173.0, 1.37
ODDS_LINE = -0.4  # from which it is said
SURE_ODDS = 2.0  # from which each second is judged by its own effect
#: Log odds that it was far from full, whatever else; decision 0039.
SHORT_CONSTANT, SHORT_OPENED, SHORT_WIDTH = -19.5, 12.1, 4.28
SURE_SHORT = 0.0  # from which no second was steady
OPENED_MOST = 0.5  # beyond, it counts no further
OPENED_SAID = 0.1  # of the effect, from which too little drug is among the reasons
WAVES_SPAN = (-8.0, 12.0)
WAVES_SAID = 3.0  # log-likelihood ratio from which their period is told: 20 to 1
NOISE_UNKNOWN = 0.1  # of a level, where the plateau is too short to show it
UNSTEADY_RANGE = 0.05  # swing of Pd/Pa on the plateau [HyperaemiaSwing2016]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """The verdict; ``opened`` is the part of the effect that injections still added.

    Of what they lie above the plateau before and above the one after, ``opened`` is the larger.
    ``odds`` are the log odds against full and even hyperaemia, ``short`` those of too little drug.
    ``sure``: clear enough to judge each second. ``swing`` is the range of Pd/Pa over breaths, steps
    and drift of a gauge taken off; ``wave_s`` the period of regular waves, None without any.
    """

    verdict: Verdict
    odds: float = 0.0
    short: float = 0.0
    sure: bool = False
    opened: float | None = None
    swing: float | None = None
    dispersion: float | None = None
    wave_s: float | None = None

    @property
    def never_full(self) -> bool:
        """Whether hyperaemia was short of full for certain, so that no second of it was steady.

        Also where the arrival was too faint to be seen: shorter transit proves no more than some.
        """
        return self.verdict in {"submaximal", "not seen"} and self.short > SURE_SHORT


def doubt_of(course: Course | None, plateau: Plateau) -> Doubt:
    """Return how hyperaemia stands by the course of the pressures alone."""
    if course is None:
        return Doubt(verdict="not seen")
    noise = NOISE_UNKNOWN if plateau.noise is None else plateau.noise
    added = [_added(plateau.after, other) for other in (plateau.before, plateau.late)]
    told = max((a for a in added if a is not None), default=None)
    opened = sum(float(np.clip(a - noise, 0.0, OPENED_MOST)) for a in added if a is not None)
    waves = plateau.waves or Waves(any=0.0, regular=0.0, period_s=0.0)
    wide, regular = (float(np.clip(x, *WAVES_SPAN)) for x in (waves.any, waves.regular))
    slow = float(np.log(course.width_s))
    swing = plateau.swing or 0.0
    odds = (
        CONSTANT + WIDE * wide + REGULAR * regular + OPENED * opened + WIDTH * slow
        + SWING * min(swing, UNSTEADY_RANGE) + SEEN * float(np.log(max(course.gain, 1.0)))
    )  # fmt: skip
    short = SHORT_CONSTANT + SHORT_OPENED * opened + SHORT_WIDTH * slow
    if course.gain < SEEN_GAIN:
        return Doubt(verdict="not seen", short=short, swing=plateau.swing)
    verdict: Verdict = "full"
    swings = swing > UNSTEADY_RANGE
    if odds > ODDS_LINE or swings:
        verdict = "submaximal" if opened > OPENED_SAID else "unsteady"
    return Doubt(
        verdict=verdict, odds=odds, short=short, opened=told, swing=plateau.swing,
        dispersion=plateau.dispersion,
        sure=odds > SURE_ODDS or swings,
        wave_s=waves.period_s if waves.regular > WAVES_SAID and verdict != "full" else None,
    )  # fmt: skip


def _added(after: float | None, before: float | None) -> float | None:
    return None if after is None or before is None else after - before
