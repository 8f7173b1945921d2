"""Hyperaemia as the pressures show it: when it came, whether full and even, state by state."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes.hyperaemia import HyperaemiaState, Stretch
from arteriole.episodes.hyperaemia_course import (
    FEWEST_BEATS,
    RATIO,
    WAVE,
    Course,
    effect,
    fit_course,
    smoothed,
)
from arteriole.episodes.hyperaemia_doubt import Doubt, doubt_of
from arteriole.episodes.hyperaemia_plateau import Plateau, plateau_of
from arteriole.episodes.hyperaemia_steps import lost_at_once, mended
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples

BEGUN, ARRIVED = 0.10, 0.93  # shares of the fitted arrival; decisions 0036, 0090
USUAL_ARRIVAL_S = 25.0  # between them where transit alone proves the drug; decision 0090
FIRST_EFFECT_S = 25.0  # from an act at rest to hyperaemia at the earliest, s
STEADY_SHARE = 0.90  # of the effect's upper level; below it an uneven plateau is not steady
HELD_SHARE = 0.80  # of the effect; above it the drug still acted
TOP_PERCENT = 85.0
LEVEL_S = 8.0  # smoothing of the effect before that is asked
GONE_SHARE, TAIL_S = 0.40, 10.0  # of the effect, over the last seconds: hyperaemia was over
SHORTEST_S = 5.0  # a stretch shorter than this joins its neighbours


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What was seen; ``begun_s``, ``arrived_s`` and ``end_s`` bound it, s.

    Where the verdict is "not seen" there is no course: ``begun_s`` is then when the drug may have
    come at the earliest and ``arrived_s`` when it usually has arrived.
    """

    begun_s: float
    arrived_s: float
    end_s: float
    course: Course | None
    plateau: Plateau
    doubt: Doubt
    states: tuple[Stretch, ...]


def see_hyperaemia(
    trend: Trend, from_s: float, first_s: float, end_s: float, *,
    resting_s: Sequence[float], hyper_s: Sequence[float], still_from_s: float | None,
    steps_s: Sequence[float], drawn: bool, blocked_s: Sequence[tuple[float, float]] = (),
) -> Seen | None:  # fmt: skip
    """Return hyperaemia between the last act at rest and the pullback, or None.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    from_s, first_s, end_s : float
        After the last act at rest; the first act that lies in hyperaemia for certain; the
        pullback or the end, s.
    resting_s, hyper_s : sequence of float
        Injections of either state, s.
    still_from_s : float or None
        End of what disturbed rest before it (infusions), s.
    steps_s : sequence of float
        Steps of the ratio alone, s.
    drawn : bool
        Whether ``end_s`` is a pullback. Where it is not, hyperaemia ends with its effect.
    blocked_s : sequence of (float, float)
        When the guide blocked the ostium, s.

    Look-ahead: to ``end_s``. None where nothing speaks for a drug: no course, no injection.
    """
    cut, trend = trend.cut, mended(trend, [s for s in steps_s if from_s < s < end_s])
    course = fit_course(trend, from_s, first_s, resting_s, still_from_s)
    plateau, over = Plateau(), end_s
    if course is not None:
        # A wire drawn back at once looks the same: without a known pullback only among injections.
        until = end_s if drawn else max(hyper_s, default=course.mid_s)
        lost = lost_at_once(trend, course, hyper_s, until)
        trend = trend if lost is None else mended(trend, [lost])
        over = _over_from(trend, course, max([course.at(ARRIVED), *hyper_s]), end_s)
        plateau = plateau_of(trend, course, hyper_s, over, blocked_s)
        end_s = end_s if drawn else over
    doubt = doubt_of(course, plateau)
    if cut and doubt.verdict != "not seen":
        doubt = Doubt(verdict="full")  # how full it was is a value, and there is none; 0101
    if doubt.verdict == "not seen":
        if not hyper_s:
            return None
        begun = min(from_s + FIRST_EFFECT_S, hyper_s[0])
        arrived = min(begun + USUAL_ARRIVAL_S, hyper_s[0])
        return Seen(
            begun_s=begun, arrived_s=arrived, end_s=end_s, course=None, plateau=plateau,
            doubt=doubt, states=(Stretch(start_s=begun, end_s=end_s, state="not reached"),),
        )  # fmt: skip
    assert course is not None
    begun = max(course.at(BEGUN), from_s)
    arrived = float(np.clip(course.at(ARRIVED), begun, end_s))
    return Seen(
        begun_s=begun, arrived_s=arrived, end_s=end_s, course=course, plateau=plateau, doubt=doubt,
        states=_states(trend, course, doubt, (begun, arrived, over, end_s)),
    )  # fmt: skip


def proven_states(seen: Seen) -> tuple[Stretch, ...]:
    """Return the states where shorter transit proves what pressures do not show; decision 0045."""
    return (
        Stretch(start_s=seen.begun_s, end_s=seen.arrived_s, state="building"),
        Stretch(start_s=seen.arrived_s, end_s=seen.end_s, state="steady"),
    )


def _states(
    trend: Trend, course: Course, doubt: Doubt, edges_s: tuple[float, float, float, float]
) -> tuple[Stretch, ...]:
    begun, arrived, over, end = edges_s
    if doubt.never_full:
        return (Stretch(start_s=begun, end_s=end, state="not reached"),)
    building = Stretch(start_s=begun, end_s=arrived, state="building")
    level = effect(trend, course, (RATIO, WAVE)) if doubt.sure else None
    rest: tuple[Stretch, ...] = (Stretch(start_s=arrived, end_s=over, state="steady"),)
    if level is not None:
        rest = _uneven(trend, smoothed(trend.time_s, level, LEVEL_S), arrived, over)
    gone = Stretch(start_s=max(over, arrived), end_s=end, state="fading")
    rows: list[Stretch] = []
    for s in (building, *rest, gone):
        if rows and rows[-1].state == s.state:  # an uneven plateau may begin with more building
            rows[-1] = replace(rows[-1], end_s=s.end_s)
        elif s.end_s > s.start_s:
            rows.append(s)
    return tuple(rows)


def _over_from(trend: Trend, course: Course, from_s: float, end_s: float) -> float:
    """Return from when the effect has gone for good, or ``end_s``: the drug was stopped.

    A wire drawn back through a vessel that loses nothing looks the same.
    """
    level = effect(trend, course, (RATIO, WAVE))
    if level is None:
        return end_s
    on = (trend.time_s >= from_s) & (trend.time_s < end_s)
    time_s, own = trend.time_s[on], smoothed(trend.time_s, level, LEVEL_S)[on]
    last = own[time_s > end_s - TAIL_S]
    held = np.flatnonzero(own >= HELD_SHARE)
    if last.size < 3 or float(np.median(last)) > GONE_SHARE or not held.size:
        return end_s
    return float(time_s[held[-1]])


def _uneven(trend: Trend, level: Samples, from_s: float, end_s: float) -> tuple[Stretch, ...]:
    """Return steady stretches, what lies between as building, and a last fall as fading."""
    on = (trend.time_s >= from_s) & (trend.time_s < end_s)
    time_s, own = trend.time_s[on], level[on]
    if time_s.size < FEWEST_BEATS:
        return (Stretch(start_s=from_s, end_s=end_s, state="steady"),)
    high = own >= STEADY_SHARE * float(np.percentile(own, TOP_PERCENT))
    cuts = np.flatnonzero(high[1:] != high[:-1]) + 1
    starts = [from_s, *(float(t) for t in time_s[cuts])]
    runs: list[tuple[float, bool]] = []
    for k, start in enumerate(starts):
        up = bool(high[0 if k == 0 else cuts[k - 1]])
        stop = starts[k + 1] if k + 1 < len(starts) else end_s
        if not runs or (stop - start >= SHORTEST_S and runs[-1][1] != up):
            runs.append((start, up))
    rows: list[Stretch] = []
    for k, (start, up) in enumerate(runs):
        stop = runs[k + 1][0] if k + 1 < len(runs) else end_s
        again = any(later for _, later in runs[k + 1 :])
        state: HyperaemiaState = "steady" if up else "building" if again else "fading"
        rows.append(Stretch(start_s=start, end_s=stop, state=state))
    return tuple(rows)
