"""All episodes of a recording, found from its signals alone."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from arteriole.episodes.boluses import cold_boluses, find_boluses, through_the_guide
from arteriole.episodes.episode import Episode
from arteriole.episodes.gauge_setting import find_equalisation
from arteriole.episodes.hyperaemia import Stretch
from arteriole.episodes.hyperaemia_seen import Seen, proven_states, see_hyperaemia
from arteriole.episodes.infusions import FoundInfusion, find_infusions, phases_of
from arteriole.episodes.pullback import drawn_episodes, find_pullback, places_of
from arteriole.episodes.rest import TO_THE_ACT_S, choose_rest
from arteriole.episodes.trend import Trend, trend_of
from arteriole.recording.channel import Samples
from arteriole.recording.settings import Settings
from arteriole.signal import Beats, Grid
from arteriole.signal.graded import Quality, Span

ENTRY_S = 8.0  # the wire's way up the guide to its tip
WARM_UP_S = 6.0  # the sensor takes this long to the blood's temperature
PLACE_S = 6.0  # after the equalisation the wire needs at least this to leave the guide
SPLIT_GAP_S = 25.0  # the drug needs longer than the usual pause between two injections
SPLIT_FALL = 0.006
TOP_PERCENT = 80.0
ADVANCE_S = 15.0  # the wire's way from the guide to its place
LONG_GAP_S = 45.0
LONGEST_GAP_S = 200.0  # a pause that other acts fill says no more; our choice, decision 0102
LONE_PAUSE = 2.5  # times the next longest; decision 0036
EARLY_SHARE = 0.5  # the gauges are set equal in the first half
SOON_S = 150.0  # and this soon after the wire is in blood; a later step is the gauge's own; 0042
CHANGE_S = 10.0  # an injection's own effect on the ratio is over, common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundEpisodes:
    """What was found; ``phases`` is parallel to ``injections_s``.

    ``hyperaemia`` is None where no drug was seen or used. ``guide_s``: when Pa alone shows that
    something went through the guide; ``cold_tells``: whether injections are known by their cold.
    """

    episodes: tuple[Episode, ...]
    injections_s: tuple[float, ...]
    phases: tuple[str, ...]
    trend: Trend
    hyperaemia: Seen | None = None
    flushes_s: tuple[tuple[float, float], ...] = field(default_factory=tuple)
    guide_s: tuple[tuple[float, float], ...] = field(default_factory=tuple)
    cold_tells: bool = True


def find_episodes(grid: Grid, beats: Beats, quality: Quality, settings: Settings) -> FoundEpisodes:
    """Return every episode, in order of time; marks are not known here."""
    del settings
    trend = trend_of(beats, quality)
    zeroings = _joined([s for s in quality.spans if s.code == "open_to_air" and s.channel == "pa"])
    in_blood = _in_blood_s(grid, quality)
    infused = find_infusions(grid, in_blood + WARM_UP_S)
    infusions = tuple((i.start_s, i.end_s) for i in infused)
    first_cold = infusions[0][0] if infusions else grid.end_s
    halfway = grid.start_s + EARLY_SHARE * (grid.end_s - grid.start_s)
    halfway = min(halfway, in_blood + SOON_S)
    events = cold_boluses(grid, in_blood + WARM_UP_S)
    cold = find_boluses(events, quality, grid.end_s).flushes_s
    equalisation = find_equalisation(
        beats, quality, in_blood + ENTRY_S, _needs_wire(quality, cold, first_cold, halfway), cold
    )
    placed = equalisation[1] if equalisation else in_blood + WARM_UP_S
    boluses = find_boluses(events, quality, placed, infusions)
    times = boluses.injections_s
    last_act = max([*times, *(b for _, b in infusions), placed], default=placed)
    on_the_way = ADVANCE_S if equalisation else 0.0
    phases, level = _phases(trend, times, infusions, placed + on_the_way)
    first_act = min([*times, *(a for a, _ in infusions)], default=None)
    drawn = find_pullback(
        grid, beats, quality, trend, last_act + CHANGE_S, level,
        places_s=places_of(equalisation, first_act),
    )  # fmt: skip
    end = drawn.start_s if drawn else grid.end_s
    hyper = [t for t, p in zip(times, phases, strict=True) if p == "hyperaemia"]
    resting = [t for t, p in zip(times, phases, strict=True) if p == "rest"]
    quiet_until = min([*times, *(a for a, _ in infusions)], default=np.inf)
    if not np.isfinite(quiet_until) or not resting:
        quiet_until = min(quiet_until, _first_fall(trend, placed, end))
    cold_tells = bool(events or infused)
    guide = through_the_guide(
        quality, events, placed if cold_tells else in_blood, cold_tells=cold_tells
    )
    rest = choose_rest(
        trend, [*boluses.flushes_s, *infusions, *guide], placed + PLACE_S,
        min(quiet_until - TO_THE_ACT_S, end), acts_seen=cold_tells,
        effect_seen=bool(quiet_until < end),
    )  # fmt: skip
    if rest is not None:
        level = float(np.median(trend.between(rest[0], rest[1]).level))
    search = max([*resting, *(b for _, b in infusions if not hyper or b < hyper[0])], default=None)
    search = (search + CHANGE_S) if search is not None else (rest[1] if rest else placed)
    first = hyper[0] - 1.0 if hyper else _lowest_middle(trend, search, end)
    seen = None
    if level is not None and first is not None:
        still = max((b for _, b in infusions if b < first), default=None)
        seen = see_hyperaemia(
            trend, search, first, end, resting_s=resting, hyper_s=hyper,
            still_from_s=None if still is None else still + CHANGE_S,
            steps_s=[s.start_s for s in quality.spans if s.code == "ratio_step"],
            drawn=drawn is not None,
            blocked_s=[
                (s.start_s, s.end_s) for s in quality.spans if s.code == "pa_ventricularised"
            ],
        )  # fmt: skip
    rows = [Episode(kind="zeroing", start_s=a, end_s=b) for a, b in zeroings]
    rows += [Episode(kind="flush", start_s=a, end_s=b) for a, b in boluses.flushes_s]
    if equalisation:
        rows.append(Episode(kind="equalisation", start_s=equalisation[0], end_s=equalisation[1]))
    if rest:
        note = ", ".join(rest[2])
        rows.append(Episode(kind="rest", start_s=rest[0], end_s=rest[1], note=note))
    rows += _infusion_episodes(infused, trend)
    for k, t in enumerate(times):
        phase = "hyperaemia" if phases[k] == "hyperaemia" else "rest"
        stop = min([t + 6.0, *(x for x in times[k + 1 : k + 2])])
        rows.append(Episode(kind="injection", start_s=t, end_s=stop, phase=phase))  # type: ignore[arg-type]
    if seen is not None:
        rows.append(Episode(kind="hyperaemia", start_s=seen.begun_s, end_s=seen.end_s))
    if drawn:
        phase = "hyperaemia" if _under_drug(seen) else "rest"
        rows += drawn_episodes(drawn, phase)
    return FoundEpisodes(
        episodes=tuple(sorted(rows, key=lambda e: (e.start_s, e.end_s, e.kind))),
        injections_s=times, phases=phases, trend=trend, hyperaemia=seen,
        flushes_s=boluses.flushes_s, guide_s=guide, cold_tells=cold_tells,
    )  # fmt: skip


def states_of(found: FoundEpisodes, *, proven: bool = False) -> tuple[Stretch, ...]:
    """Return the steadiness line as stretches, empty where hyperaemia was not found.

    ``proven``: transit times got shorter, so hyperaemia that no pressure shows was there.
    """
    seen = found.hyperaemia
    if seen is None:
        return ()
    unseen = seen.doubt.verdict == "not seen" and not seen.doubt.never_full
    return proven_states(seen) if proven and unseen else seen.states


def _under_drug(seen: Seen | None) -> bool:
    return seen is not None and all(s.state != "fading" for s in seen.states)


def _needs_wire(
    quality: Quality, cold: Sequence[tuple[float, float]], first_cold: float, halfway: float
) -> float:
    """Return the start of the first act that needs the wire in place: a row of three or more.

    A flush that left no cold trace (the wire itself on its way in does the same to Pa) is none.
    """
    dry = {s.start_s for s in quality.spans if s.code == "pa_disturbed"}
    starts = [a for a, _ in cold if a not in dry]
    row = [a for a, c in zip(starts, starts[2:], strict=False) if c - a < 2.0 * LONG_GAP_S]
    return min([halfway, first_cold, *row])


def _joined(spans: Sequence[Span]) -> list[tuple[float, float]]:
    rows: list[tuple[float, float]] = []
    for span in sorted(spans, key=lambda s: s.start_s):
        if rows and span.start_s - rows[-1][1] < 2.0:
            rows[-1] = (rows[-1][0], max(rows[-1][1], span.end_s))
        else:
            rows.append((span.start_s, span.end_s))
    return rows


def _in_blood_s(grid: Grid, quality: Quality) -> float:
    """Return when the wire's sensor first lies in a pulse: the end of its first open stretch."""
    ends = [s.end_s for s in quality.spans if s.code == "open_to_air" and s.channel == "pd"]
    early = [e for e in ends if e < grid.start_s + 0.4 * (grid.end_s - grid.start_s)]
    return max(early, default=grid.start_s)


def _phases(
    trend: Trend, times: Sequence[float], infusions: Sequence[tuple[float, float]], placed_s: float
) -> tuple[tuple[str, ...], float | None]:
    """Return the phase of every injection, and the resting level of Pd/Pa if there is one.

    The row is split where the level before the injections falls most across a pause that is long
    enough for a drug to act; across a very long pause a smaller fall is enough, and none where the
    pause stands alone.
    """
    levels: Samples = np.array([_level_before(trend, t) for t in times])
    quiet = [*times, *(a for a, _ in infusions)]
    before = trend.between(placed_s, min(quiet, default=np.inf))
    # The highest lasting level before the first act: contrast and drugs lower it, rest is on top.
    start = float(np.percentile(before.level, TOP_PERCENT)) if before.level.size >= 5 else None
    if not times:
        return (), start
    best, gain = None, 0.0
    for k in range(1, len(times)):
        gap = times[k] - times[k - 1]
        if gap < SPLIT_GAP_S:
            continue
        fall = _middle(levels[:k]) - _middle(levels[k:])
        score = fall + (SPLIT_FALL if gap > LONG_GAP_S else 0.0) + 1e-4 * min(gap, LONGEST_GAP_S)
        if fall > (0.0 if gap > LONG_GAP_S else SPLIT_FALL) and score > gain:
            best, gain = k, score
    if best is None:
        best = _lone_pause(times, infusions)
    if best is not None:
        level = _middle(levels[:best])
        return ("rest",) * best + ("hyperaemia",) * (len(times) - best), level
    if start is not None and start - _middle(levels) > 2.0 * SPLIT_FALL:
        return ("hyperaemia",) * len(times), start
    return ("rest",) * len(times), start


def _lone_pause(times: Sequence[float], infusions: Sequence[tuple[float, float]]) -> int | None:
    """Return where a row has one pause far longer than all others, two injections on either side.

    That is how rows with a drug between them look, even where the drug cannot be seen. What an
    infusion fills is no pause.
    """
    if len(times) < 4:
        return None
    filled = [
        sum(max(min(b, end) - max(a, start), 0.0) for start, end in infusions)
        for a, b in pairwise(times)
    ]
    gaps = np.diff(times) - np.array(filled)
    k = int(np.argmax(gaps))
    others = np.delete(gaps, k)
    alone = gaps[k] > LONG_GAP_S and gaps[k] > LONE_PAUSE * others.max()
    return k + 1 if alone and 2 <= k + 1 <= len(times) - 2 else None


def _middle(levels: Samples) -> float:
    known = levels[np.isfinite(levels)]
    return float(np.median(known)) if known.size else float("nan")


def _level_before(trend: Trend, time_s: float) -> float:
    part = trend.between(time_s - 7.0, time_s - 0.5)
    return float(np.median(part.ratio)) if part.ratio.size >= 3 else float("nan")


def _first_fall(trend: Trend, from_s: float, to_s: float) -> float:
    """Return when the ratio first leaves its level for good, in a run without injections."""
    part = trend.between(from_s, to_s)
    if part.level.size < 20:
        return to_s
    first = float(np.median(part.level[: max(10, part.level.size // 6)]))
    low = float(np.percentile(part.level, 10))
    if first - low < max(2.0 * SPLIT_FALL, 3.0 * trend.noise):
        return to_s
    above = np.flatnonzero(part.level > first - 0.15 * (first - low))
    low_at = int(np.argmax(part.level < low + 0.2 * (first - low)))
    early = above[above < low_at]
    return float(part.time_s[early[-1]]) if early.size else to_s


def _lowest_middle(trend: Trend, from_s: float, to_s: float) -> float | None:
    """Return the middle of the lowest stretch, where a plateau would be."""
    part = trend.between(from_s, to_s)
    if part.level.size < 20:
        return None
    low = part.level < np.percentile(part.level, 25)
    return float(np.median(part.time_s[low])) if low.any() else None


def _infusion_episodes(infusions: Sequence[FoundInfusion], trend: Trend) -> list[Episode]:
    return [
        Episode(kind="infusion", start_s=one.start_s, end_s=one.end_s, phase=phase)  # type: ignore[arg-type]
        for one, phase in zip(infusions, phases_of(infusions, trend), strict=True)
    ]
