"""What the plateau says of hyperaemia: whether anything was left to open, and how it sways.

Two measurements on the effect of the drug (0 at rest, 1 at the fitted plateau):

- *left to open*: saline itself opens vessels a little [Adjedj2015], [Gallinoro2021]. A muscle that
  is fully open cannot open further, so an effect that grows in the wake of an injection was not
  full before.
- *sway*: how far the effect ranges once it has arrived.

Decision 0036.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.episodes.hyperaemia_course import (
    PRESSURE,
    RATE,
    RATIO,
    WAVE,
    Course,
    effect,
    smoothed,
)
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

BEFORE_S = (15.0, 1.0)  # ahead of the first injection
WAKE_S = (3.0, 9.5)  # after each injection: saline's own effect, its pressure artefact over
PUSH_S = (1.0, 3.0)  # around an injection: pressures are disturbed
LATE_S = 13.0  # after the last injection its effect is over
SETTLED_S = 6.0  # after the arrival, before sway counts
EDGE_S = 4.0  # before the end
FEWEST = 4  # beats for a level
SIDE_S = 12.0  # either side of a step of the ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Plateau:
    """Levels of the effect, 1 at the fitted plateau; None where nothing could be read.

    ``before`` the first injection, ``after`` each (median over their wakes), ``late`` once all are
    over; ``doubt`` is the effect's slow standard deviation at rest. ``sway`` is the range of the
    effect from all four rows, ``sway_doubt`` that one's standard deviation at rest.
    """

    before: float | None = None
    after: float | None = None
    late: float | None = None
    doubt: float = 0.0
    sway: float | None = None
    sway_doubt: float = 0.0


def plateau_of(
    trend: Trend, course: Course, boluses_s: Sequence[float], end_s: float,
    steps_s: Sequence[float] = (),
) -> Plateau:  # fmt: skip
    """Return what the plateau says.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    course : Course
        The arrival.
    boluses_s : sequence of float
        Injections in hyperaemia, s.
    end_s : float
        End of hyperaemia: pullback or end of the recording, s.
    steps_s : sequence of float
        Steps of the ratio with nothing else moving, s: a wire that slipped is no change of effect.
    """
    t = trend.time_s
    own = level_effect(trend, course, steps_s)
    every = effect(trend, course, (RATIO, WAVE, PRESSURE, RATE))
    if own is None or every is None:
        return Plateau()
    if steps_s:
        every = _mended(t, every, steps_s, end_s)
    first = min(boluses_s, default=end_s)
    wakes = [_level(t, own, b + WAKE_S[0], b + WAKE_S[1]) for b in boluses_s]
    known = [w for w in wakes if w is not None]
    late_from = max([*(b + LATE_S for b in boluses_s), course.at(0.95)])
    on = (t > course.at(0.95) + SETTLED_S) & (t < end_s - EDGE_S)
    for b in boluses_s:
        on &= ~((t > b - PUSH_S[0]) & (t < b + PUSH_S[1]))
    slow = smoothed(t, every)
    sway = float(np.ptp(np.percentile(slow[on], (3.0, 97.0)))) if int(on.sum()) > 20 else None
    return Plateau(
        before=_level(t, own, first - BEFORE_S[0], first - BEFORE_S[1]),
        after=float(np.median(known)) if known else None,
        late=_level(t, own, late_from, end_s - EDGE_S),
        doubt=_at_rest(t, own, course), sway=sway, sway_doubt=_at_rest(t, every, course),
    )  # fmt: skip


def level_effect(trend: Trend, course: Course, steps_s: Sequence[float] = ()) -> Samples | None:
    """Return the effect by ratio and wave, shape (n,), steps of the ratio mended; or None."""
    own = effect(trend, course, (RATIO, WAVE))
    if own is None or not steps_s:
        return own
    return _mended(trend.time_s, own, steps_s, float(trend.time_s[-1]) + 1.0)


def _mended(time_s: Samples, row: Samples, steps_s: Sequence[float], end_s: float) -> Samples:
    """Return the row with what lies after each step set level with what lies before it."""
    out = row.copy()
    for at in sorted(s for s in steps_s if s < end_s):
        left = _level(time_s, out, at - SIDE_S, at - 0.2)
        right = _level(time_s, out, at + 0.5, at + SIDE_S)
        if left is not None and right is not None:
            out[time_s >= at] += left - right
    return out


def _level(time_s: Samples, row: Samples, from_s: float, to_s: float) -> float | None:
    part = row[(time_s >= from_s) & (time_s < to_s)]
    return float(np.median(part)) if part.size >= FEWEST else None


def _at_rest(time_s: Samples, row: Samples, course: Course) -> float:
    quiet = (time_s > course.mid_s - course.width_s - 60.0) & (
        time_s < course.mid_s - course.width_s
    )
    if int(quiet.sum()) < FEWEST:
        return 0.0
    return float(np.std(smoothed(time_s, row)[quiet]))
