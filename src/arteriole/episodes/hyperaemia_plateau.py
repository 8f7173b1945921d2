"""What the plateau says of hyperaemia: whether anything was left to open, and how it sways.

Measured on the effect of the drug (0 at rest, 1 at the fitted plateau):

- *left to open*: saline itself opens vessels a little [Adjedj2015], [Gallinoro2021]. A muscle that
  is fully open cannot open further, so an effect that grows in the wake of an injection was not
  full before.
- *waves*: how much likelier a drug that comes in waves is than an ordinary vessel's wander.

Decisions 0037, 0039.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.episodes.hyperaemia_course import (
    RATIO,
    WAVE,
    Course,
    effect,
    smoothed,
    without_outliers,
)
from arteriole.episodes.hyperaemia_steps import PUSH_S, level_of
from arteriole.episodes.hyperaemia_waves import FEWEST_MEANS, Waves, means_of, noise_of, waves_in
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

BEFORE_S = (16.0, 2.0)  # ahead of the first injection
WAKE_S = (2.0, 8.5)  # after each injection: saline's own effect, its pressure artefact over
LATE_S = 12.0  # after the last injection its effect is over
SETTLED_S = 4.0  # after the arrival, before sway counts
EDGE_S = 3.0  # before the end
LATE_EDGE_S = 4.0
MADE_GOOD_S = 25.0  # after a blocked ostium; decision 0039
FEWEST_BEATS = 20  # for a swing


@dataclass(frozen=True, slots=True, kw_only=True)
class Plateau:
    """Levels of the effect, 1 at the fitted plateau; None where nothing could be read.

    ``before`` the first injection, ``after`` each (median over their wakes), ``late`` once all are
    over; ``noise`` is the standard deviation of such a level. ``waves`` is how much likelier waves
    are than an ordinary vessel's wander. ``swing`` is the range of Pd/Pa over breaths and
    ``dispersion`` its mean distance from the median, % of it; both of one row without its drift.
    """

    before: float | None = None
    after: float | None = None
    late: float | None = None
    noise: float | None = None
    waves: Waves | None = None
    swing: float | None = None
    dispersion: float | None = None


def plateau_of(
    trend: Trend, course: Course, boluses_s: Sequence[float], end_s: float,
    blocked_s: Sequence[tuple[float, float]] = (),
) -> Plateau:  # fmt: skip
    """Return what the plateau says.

    Parameters
    ----------
    trend : Trend
        Clean beats, level across steps of a gauge or the wire.
    course : Course
        The arrival.
    boluses_s : sequence of float
        Injections in hyperaemia, s.
    end_s : float
        End of hyperaemia: pullback or end of the recording, s.
    blocked_s : sequence of (float, float)
        When the guide blocked the ostium, s: what follows is made good first.
    """
    t = trend.time_s
    own = effect(trend, course, (RATIO, WAVE))
    if own is None:
        return Plateau()
    on = (t > course.at(0.95) + SETTLED_S) & (t < end_s - EDGE_S)
    for start, end in blocked_s:  # either side stands by itself: the longer one is read
        early, later = on & (t < start - PUSH_S[0]), on & (t > end + MADE_GOOD_S)
        on = later if later.sum() >= early.sum() else early
    read = on | (t <= course.at(0.95) + SETTLED_S) | (t >= end_s - EDGE_S)
    t_read, own_read = t[read], own[read]
    first = min(boluses_s, default=end_s)
    wakes = [level_of(t_read, own_read, b + WAKE_S[0], b + WAKE_S[1]) for b in boluses_s]
    known = [w for w in wakes if w is not None]
    late_from = max([*(b + LATE_S for b in boluses_s), course.at(0.95)])
    for b in boluses_s:
        on &= ~((t > b - PUSH_S[0]) & (t < b + PUSH_S[1]))
    _, means = means_of(t, without_outliers(own)[None], on)
    swing, dispersion = _spread(t[on], smoothed(t, trend.ratio)[on])
    return Plateau(
        before=level_of(t_read, own_read, first - BEFORE_S[0], first - BEFORE_S[1]),
        after=float(np.median(known)) if known else None,
        late=level_of(t_read, own_read, late_from, end_s - LATE_EDGE_S),
        noise=float(noise_of(means)[0]) if means.shape[1] >= FEWEST_MEANS else None,
        waves=waves_in(trend, course, on),
        swing=swing, dispersion=dispersion,
    )  # fmt: skip


def _spread(time_s: Samples, slow: Samples) -> tuple[float | None, float | None]:
    if slow.size <= FEWEST_BEATS:
        return None, None
    passed = time_s - time_s.mean()
    slope = float(passed @ slow) / float(passed @ passed)
    level = slow - slope * passed
    return float(np.ptp(np.percentile(level, (3.0, 97.0)))), dispersion_of(level)


def dispersion_of(row: Samples) -> float:
    """Return the mean distance from the median, % of it, row of shape (n,)."""
    middle = float(np.median(row))
    return float(100.0 * np.mean(np.abs(row - middle)) / middle)
