"""The pullback: where the ratio climbs to the guide's, and the check that follows."""

from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes.episode import Episode
from arteriole.episodes.pullback_motion import find_onset, has_faded
from arteriole.episodes.pullback_profile import START_NOT_SEEN
from arteriole.episodes.pullback_visit import earlier_visit
from arteriole.episodes.trend import Trend, running_median
from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Grid
from arteriole.signal.graded import Quality

END_S = 6.0  # the last seconds are taken as "at the guide" when the rest fits
LEAST_AT_GUIDE = 0.88  # at the guide Pd/Pa is 1 but for the gauges' error; decision 0043
RISE = 0.012  # least rise in Pd/Pa that can be told from wandering; our choice, decision 0043
QUIET_MMHG, QUIET_NOISES = 0.4, 6.0  # the same where the pressures hardly part; decision 0026
NOISES = 4.0
SAME_WAVE = 0.5  # at the guide the wave's gap is at most this share of what it was in the vessel
SAME_WAVE_MMHG = 1.2
BEYOND_REST = 0.01  # fading ends at the resting ratio, not above it
LEAST_SD_MMHG = 0.04  # of the gap at the guide
ARRIVED_MMHG, ARRIVED_SHARE = 0.25, 0.02  # nearer to the last level the sensor may have arrived
NEARLY_MMHG, NEARLY_SHARE = 1.0, 0.06  # the last, slow part of the way
NEARLY_S = 8.0
ON_THE_WAY = 0.4  # share of the rise by which it is steep where it will be
STEEP = 2.5  # times as steep as a climb over a usual pullback
USUAL_S = 25.0
BEFORE_ACT_S = 20.0  # before the first act the vessel is at rest, or nearly
SETTLE_S = 1.0
LONGEST_S, SHORTEST_S = 150.0, 3.0
CHECK_S = 4.0  # least stretch at the guide that checks the drift
FEWEST = 20
Places = tuple[tuple[float, float], tuple[float, float]]  # at the guide, at rest in the vessel, s


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A pullback and the check after it, s; ``start_seen``: its beginning left a trace.

    ``again``: the wire was put back and drawn a second time.
    """

    start_s: float
    end_s: float
    check_start_s: float
    check_end_s: float
    start_seen: bool = True
    again: "Drawn | None" = None


def places_of(
    guide_s: tuple[float, float] | None, first_act_s: float | None
) -> Places | None:  # fmt: skip
    """Return where the waves at the guide and of rest were recorded, None where one was not."""
    if guide_s is None or first_act_s is None:
        return None
    return guide_s, (first_act_s - BEFORE_ACT_S, first_act_s - 0.5)


def drawn_episodes(drawn: Drawn, phase: str) -> tuple[Episode, ...]:
    """Return every pullback and the check after it as episodes; ``phase``: rest or hyperaemia."""
    return (
        Episode(
            kind="pullback", start_s=drawn.start_s, end_s=drawn.end_s, phase=phase,  # type: ignore[arg-type]
            note="" if drawn.start_seen else START_NOT_SEEN,
        ),
        Episode(kind="drift_check", start_s=drawn.check_start_s, end_s=drawn.check_end_s),
        *(() if drawn.again is None else drawn_episodes(drawn.again, phase)),
    )  # fmt: skip


def find_pullback(
    grid: Grid,
    beats: Beats,
    quality: Quality,
    trend: Trend,
    from_s: float,
    rest_level: float | None,
    *,
    places_s: Places | None = None,
    told: bool = False,
) -> Drawn | None:
    """Return the pullback after ``from_s``, or None when the wire did not come back.

    The ratio climbs, stays, and the two waves become one shape (so a fading hyperaemia is not
    taken for it); a ratio beyond that of rest can only be the guide's. ``places_s``: where the
    wave at the guide and that of rest in the vessel were recorded, to tell both apart. ``told``: a
    person wrote down that the wire was drawn back, so that the climb needs no other proof. Where
    the sensor had been at the guide before and went back into the vessel, the first pullback is
    returned, for it starts where hyperaemia was read, with the later one in ``again``.
    Look-ahead: to the end of the recording.
    """
    part = trend.between(from_s, np.inf)
    t = part.time_s
    if t.size < FEWEST:
        return None
    level = running_median(part.ratio, 5)
    gap = part.pd_mmhg - part.pa_mmhg
    end = float(t[-1])
    last = t > end - END_S
    quiet = level[: max(8, int(0.15 * level.size))]
    low, final = float(np.median(quiet)), float(np.median(part.ratio[last]))
    top = float(np.median(gap[last]))
    rise_mmhg = top - float(np.median(gap[: quiet.size]))
    spread = 1.4826 * float(np.median(np.abs(gap[last] - top)))
    if not told and not _is_drawn(part, trend, rest_level, quiet, final, rise_mmhg):
        return None
    if places_s is not None:
        last_s = (end - END_S, end + 1.0)
        if has_faded(grid, beats, quality, places_s[0], places_s[1], last_s):
            return None
    nearly = max(NEARLY_MMHG, NEARLY_SHARE * abs(rise_mmhg))
    arrived = max(ARRIVED_MMHG, NOISES * max(spread, LEAST_SD_MMHG), ARRIVED_SHARE * abs(rise_mmhg))
    visit = earlier_visit(part, top, rise_mmhg, (arrived, nearly), rest_level)
    if visit is not None:
        first = find_pullback(
            grid, beats, quality, trend.between(-np.inf, visit.end_s), from_s, rest_level,
            places_s=places_s, told=told,
        )  # fmt: skip
        again = find_pullback(
            grid, beats, quality, trend, visit.back_s, rest_level, places_s=places_s, told=True
        )
        if first is not None and again is not None:
            return replace(first, again=again)
    away = np.abs(running_median(gap, 3) - top) > arrived
    gone = np.flatnonzero(away)
    if not gone.size or gone[-1] + 1 >= t.size - 2:
        return None
    near = int(gone[-1]) + 1
    stop = _arrival(t, gap, near, top, nearly)
    if end - stop < CHECK_S - SETTLE_S:
        return None
    climb = float(t[_steep_from(t, part.ratio, level, near, low, final)])
    onset = find_onset(grid, beats, quality, trend, from_s, climb, stop)
    start = climb if onset is None else onset.start_s
    if not SHORTEST_S <= stop - start <= LONGEST_S:
        start = max(min(start, stop - SHORTEST_S), stop - LONGEST_S)
    return Drawn(
        start_s=start, end_s=stop, check_start_s=min(stop + SETTLE_S, end - CHECK_S),
        check_end_s=end + 1.0, start_seen=onset is not None and onset.seen,
    )  # fmt: skip


def _is_drawn(
    part: Trend, trend: Trend, rest_level: float | None, quiet: Samples, final: float,
    rise_mmhg: float,
) -> bool:  # fmt: skip
    """Return whether the climb can only be the sensor's way to the guide."""
    if final < LEAST_AT_GUIDE:
        return False
    rise = final - float(np.median(quiet))
    wander = float(np.std(quiet))
    noise = trend.noise
    small = rise < max(RISE, NOISES * noise, 2.0 * wander)
    if small:
        still = part.within(((part.time_s[0], part.time_s[quiet.size - 1]),))
        own = float(np.std(np.diff(still.pd_mmhg - still.pa_mmhg))) / 2.0**0.5
        if rise_mmhg < max(QUIET_MMHG, QUIET_NOISES * own / quiet.size**0.5):
            return False
    beyond = rest_level is not None and final > rest_level + (0.0 if small else BEYOND_REST)
    if small and rest_level is not None and not beyond:
        return False
    end = part.time_s[-1]
    top_wave = _median(part.shape_mmhg[part.time_s > end - END_S])
    wave = _median(part.shape_mmhg[: quiet.size])
    return beyond or abs(top_wave) <= max(SAME_WAVE * abs(wave), SAME_WAVE_MMHG)


def _median(row: Samples) -> float:
    """Return the median of what is known; NaN, which proves nothing, where nothing is."""
    known = row[np.isfinite(row)]
    return float(np.median(known)) if known.size else float("nan")


def _arrival(t: Samples, gap: Samples, near: int, top: float, nearly_mmhg: float) -> float:
    """Return when the gap's last, slow climb ends: the bend of the closest bent line, s."""
    used = (np.abs(gap - top) < nearly_mmhg) & (t > t[near] - NEARLY_S)
    time, row = t[used], gap[used]
    best, found = np.inf, float(t[near])
    for bend in np.arange(t[near] - 1.0, t[-1] - CHECK_S, 0.5):
        if (time >= bend).sum() < 5 or (time < bend).sum() < 3:
            continue
        table = np.column_stack((np.ones(time.size), np.minimum(time - bend, 0.0)))
        line, *_ = np.linalg.lstsq(table, row, rcond=None)
        left = float(((row - table @ line) ** 2).sum())
        if line[1] > 0.0 and left < best:
            best, found = left, float(bend)
    return found


def _steep_from(
    t: Samples, ratio: Samples, level: Samples, near: int, low: float, final: float
) -> int:
    """Return the beat at which the steep part of the climb begins."""
    n = t.size
    k = np.arange(n)
    before = np.array([np.median(ratio[max(i - 3, 0) : i + 1]) for i in k])
    after = np.array([np.median(ratio[min(i + 2, n - 1) : i + 5]) for i in k])
    slope = (after - before) / np.maximum(
        t[np.minimum(k + 3, n - 1)] - t[np.maximum(k - 1, 0)], 0.1
    )
    under = np.flatnonzero(level[:near] < low + ON_THE_WAY * (final - low))
    at = int(under[-1]) if under.size else 1
    while at > 0 and slope[at] > STEEP * (final - low) / USUAL_S:
        at -= 1
    return at
