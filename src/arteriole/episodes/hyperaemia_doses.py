"""Doses into the artery: Pd/Pa falls, stands for some seconds and comes back, once for each dose.

A drug that runs into a vein makes one long course; this is what short ones look like. Look-ahead:
to the end of what is read.
"""

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes.hyperaemia import Stretch
from arteriole.episodes.trend import Trend, running_median
from arteriole.recording.channel import Samples

#: All of this is our choice where no other source is named; decision 0100.
EDGE_BEATS = 5  # running median that keeps the edges of a fall
LASTING_BEATS = 9  # a level that lasts
FEWEST_BEATS = 30
REACH_S, UPPER = 40.0, 85.0  # the level without drug: this percentile within so many s either side
LEAST_FALL = 0.006  # a smaller fall is a vessel's own wander; decision 0036
LEAST_OVER_WANDER = 4.0  # times the SD of the level at rest
HALF = 0.5  # of the deepest fall: a beat below it may be a dose's
APART_S = 5.0  # falls nearer to each other are one
LONGEST_HOLE_S = 15.0  # without a clean beat, within one fall: an injection and its wake
BEFORE_S, AFTER_S = 15.0, 45.0  # where the level before and after a fall is looked for
LEVEL_PERCENT = 75.0  # of what is left there when the edges of the fall are in it
BACK_SHARE = 0.20  # of its depth: a fall that comes back this near is over
BEGUN, STEADY = 0.10, 0.90  # shares of the effect; as for one course
TOP_PERCENT = 85.0
SHORTEST_S = 5.0  # of a plateau: five beats fit
#: Half a fall to half a rise at the most: mean and three SD of the plateau of either artery are 39
#: and 51 s [Adjedj2015], and the flanks come to that.
LONGEST_S = 60.0
SLOWEST_S = 25.0  # from a tenth to nine tenths; a drug by vein needs longer; decision 0036
ALIKE = (0.5, 2.0)  # of the usual depth: a last fall that was cut short is then one more dose
ACT_BEFORE_S, ACT_AFTER_S = 5.0, 1.5  # of a fall's start: an act there may have made it


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """One fall: when it began, stood, ended to stand and was gone, s; its depth of Pd/Pa.

    ``back``: it came back to the level ``before``, at ``after``. ``sound``: its course is that of
    one dose.
    """

    begun_s: float
    steady_s: float
    over_s: float
    gone_s: float
    depth: float
    back: bool
    sound: bool
    before: float = 1.0
    after: float = 1.0

    @property
    def held_s(self) -> float:
        """How long the plateau stood, s."""
        return self.over_s - self.steady_s

    def moving(self, at_s: float, margin_s: float) -> bool:
        """Return whether Pd/Pa falls or rises by this dose at a time."""
        falls = self.begun_s - margin_s < at_s < self.steady_s + margin_s
        return falls or self.over_s - margin_s < at_s < self.gone_s + margin_s


def find_falls(
    trend: Trend, rest_s: tuple[float, float], end_s: float,
    blocked_s: Sequence[tuple[float, float]] = (), away_s: Sequence[tuple[float, float]] = (),
) -> tuple[Dose, ...]:  # fmt: skip
    """Return every brief fall of Pd/Pa from the end of rest to ``end_s``, in order of time.

    Parameters
    ----------
    trend : Trend
        Clean beats.
    rest_s : (float, float)
        Rest, s; its wander is what a fall has to stand out from.
    end_s : float
        When the wire was moved, or the end, s.
    blocked_s : sequence of (float, float)
        When a blocked ostium moved the ratio as well, s: a dose there is not sound.
    away_s : sequence of (float, float)
        When an infusion opened the vessels by itself, s: nothing is read there.
    """
    part = trend.between(rest_s[0], end_s)
    kept = np.ones(part.time_s.size, dtype=bool)
    for a, b in away_s:
        kept &= (part.time_s < a) | (part.time_s >= b)
    if int(kept.sum()) < FEWEST_BEATS:
        return ()
    time_s, row = part.time_s[kept], running_median(part.ratio[kept], EDGE_BEATS)
    fallen = _upper(time_s, row) - row
    still = fallen[time_s < rest_s[1]]
    # the last beat of a recording must not set the scale
    deepest = float(np.max(running_median(fallen, LASTING_BEATS)))
    wander = float(np.std(still)) if still.size >= LASTING_BEATS else 0.0
    if deepest < max(LEAST_FALL, LEAST_OVER_WANDER * wander):
        return ()
    runs = _runs(time_s, fallen > HALF * deepest)
    found: list[Dose] = []
    for k, (a, b) in enumerate(runs):
        since = time_s[runs[k - 1][1]] if k else time_s[0]
        until = time_s[runs[k + 1][0]] if k + 1 < len(runs) else end_s
        dose = _dose(time_s, row, (a, b), (float(since), float(until)), blocked_s)
        if dose is not None and time_s[a] > rest_s[1]:
            found.append(dose)
    return _from_rest(found, float(np.median(row[time_s < rest_s[1]])))


def doses_of(
    falls: Sequence[Dose], *, told: bool, acts_s: Sequence[float] = ()
) -> tuple[Dose, ...]:
    """Return the falls that are doses for certain, or none.

    Parameters
    ----------
    falls : sequence of Dose
        From :func:`find_falls`.
    told : bool
        Whether the sheet names the artery as the route. One fall that comes back is then enough;
        else two, none of them begun by an act.
    acts_s : sequence of float
        Starts of injections and flushes, s: each moves the ratio by itself.
    """
    own = [
        f for f in falls
        if f.sound and (told or not any(_at_start(f, t) for t in acts_s))
    ]  # fmt: skip
    back = [f for f in own if f.back]
    if len(back) < (1 if told else 2):
        return ()
    usual = float(np.median([f.depth for f in back]))
    return tuple(f for f in own if f.back or ALIKE[0] * usual < f.depth < ALIKE[1] * usual)


def line_of_doses(doses: Sequence[Dose], end_s: float) -> tuple[Stretch, ...]:
    """Return the steadiness line: building, steady, fading by dose, not reached between them."""
    rows: list[Stretch] = []
    for k, d in enumerate(doses):
        next_s = doses[k + 1].begun_s if k + 1 < len(doses) else end_s
        gone = min(d.gone_s, next_s)
        rows += [
            Stretch(start_s=d.begun_s, end_s=d.steady_s, state="building"),
            Stretch(start_s=d.steady_s, end_s=d.over_s, state="steady"),
            Stretch(start_s=d.over_s, end_s=gone, state="fading"),
            Stretch(start_s=gone, end_s=next_s, state="not reached"),
        ]
    return tuple(s for s in rows if s.end_s > s.start_s)


def phases_by_doses(times_s: Sequence[float], doses: Sequence[Dose]) -> tuple[str, ...]:
    """Return the phase of every injection: hyperaemic from a dose's start until it was gone."""
    return tuple(
        "hyperaemia" if any(d.begun_s <= t < d.gone_s for d in doses) else "rest" for t in times_s
    )


def given_by(times_s: Sequence[float], doses: Sequence[Dose]) -> tuple[bool, ...]:
    """Return which cold boluses are doses themselves: each at the very start of a fall."""
    return tuple(any(_at_start(d, t) for d in doses) for t in times_s)


def _at_start(dose: Dose, time_s: float) -> bool:
    return dose.begun_s - ACT_BEFORE_S < time_s < dose.begun_s + ACT_AFTER_S


def _crossing(time_s: Samples, effect: Samples, k: int, step: int) -> float:
    """Return when the effect passed its steady share between beat ``k`` and its neighbour, s.

    Beats may be lost in between. The effect nears its plateau ever more slowly, so a straight line
    says rather too late than too early.
    """
    other = k + step
    if not 0 <= other < time_s.size or effect[other] >= STEADY:
        return float(time_s[k])
    share = (effect[k] - STEADY) / (effect[k] - effect[other])
    return float(time_s[k] + share * (time_s[other] - time_s[k]))


def _from_rest(falls: Sequence[Dose], level: float) -> tuple[Dose, ...]:
    """Return the falls, sound only where they began without drug.

    The level without drug is known at rest, and again wherever a fall came back to it; between the
    waves of a long course it is not reached. A gauge that drifts moves it little from one to the
    next.
    """
    rows: list[Dose] = []
    for fall in falls:
        free = fall.before > level - BACK_SHARE * fall.depth
        rows.append(fall if free else replace(fall, sound=False))
        if free and fall.back:
            level = fall.after
    return tuple(rows)


def _upper(time_s: Samples, row: Samples) -> Samples:
    """Return the level without drug; it may drift with the gauge, so it is looked for nearby."""
    ordered: list[float] = []  # the beats in reach, kept in order as the reach moves on
    level = np.empty(row.size)
    first = last = 0
    for k, t in enumerate(time_s.tolist()):
        while last < row.size and time_s[last] < t + REACH_S:
            insort(ordered, float(row[last]))
            last += 1
        while time_s[first] <= t - REACH_S:
            del ordered[bisect_left(ordered, float(row[first]))]
            first += 1
        at = (len(ordered) - 1) * UPPER / 100.0
        low = int(at)
        high = min(low + 1, len(ordered) - 1)
        level[k] = ordered[low] + (at - low) * (ordered[high] - ordered[low])
    return level


def _runs(time_s: Samples, low: np.ndarray) -> list[tuple[int, int]]:
    """Return first and last index of every stretch of low beats.

    Near ones are joined, and those between which no beat could be read, as in an injection.
    """
    rows: list[tuple[int, int]] = []
    for k in np.flatnonzero(low):
        near = APART_S if rows and k > rows[-1][1] + 1 else LONGEST_HOLE_S
        if rows and time_s[k] - time_s[rows[-1][1]] < near:
            rows[-1] = (rows[-1][0], int(k))
        else:
            rows.append((int(k), int(k)))
    return rows


def _dose(
    time_s: Samples, row: Samples, run: tuple[int, int], room_s: tuple[float, float],
    blocked_s: Sequence[tuple[float, float]],
) -> Dose | None:  # fmt: skip
    """Return one fall by its own levels, or None where they are not known.

    ``run``: its beats below the half; ``room_s``: from the end of the one before to the next.
    """
    a, b = run
    first, last = float(time_s[a]), float(time_s[b])
    ahead = row[(time_s > max(room_s[0], first - BEFORE_S)) & (time_s < first)]
    behind = row[(time_s > last) & (time_s < min(room_s[1], last + AFTER_S))]
    if ahead.size < EDGE_BEATS:
        return None
    before = float(np.percentile(ahead, LEVEL_PERCENT))
    after = float(np.percentile(behind, LEVEL_PERCENT)) if behind.size >= EDGE_BEATS else -np.inf
    depth = before - float(np.percentile(row[a : b + 1], 100.0 - TOP_PERCENT))
    if depth <= 0.0:
        return None
    back = before - BACK_SHARE * depth < after < before + HALF * depth
    base = np.interp(time_s, (first, last), (before, after if back else before))
    bottom = float(np.percentile((base - row)[a : b + 1], TOP_PERCENT))
    if depth < HALF * bottom:  # it only rose at its end: a wire drawn back from a long plateau
        return None
    effect = (base - row) / bottom
    full = a + np.flatnonzero(effect[a : b + 1] >= STEADY)
    none_yet = np.flatnonzero((effect[:a] < BEGUN) & (time_s[:a] > room_s[0]))
    gone = np.flatnonzero((effect < BEGUN) & (time_s > last) & (time_s < room_s[1]))
    begun = float(time_s[none_yet[-1]]) if none_yet.size else max(room_s[0], first - SLOWEST_S)
    steady = _crossing(time_s, effect, int(full[0]), -1)
    over = _crossing(time_s, effect, int(full[-1]), 1)
    ended = float(time_s[gone[0]]) if gone.size else room_s[1]
    touched = any(begun < end and start < over for start, end in blocked_s)
    sound = (
        over - steady >= SHORTEST_S
        and last - first <= LONGEST_S
        and steady - begun <= SLOWEST_S
        and not touched
    )
    return Dose(
        begun_s=begun, steady_s=steady, over_s=over, gone_s=ended, depth=bottom, back=back,
        sound=sound, before=before, after=after,
    )  # fmt: skip
