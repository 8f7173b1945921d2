"""The ratio along the pullback: profile, steps, gradient index."""

import numpy as np

from arteriole.episodes.episode import Episode
from arteriole.episodes.pullback_trace import (
    PullbackCertainty,
    PullbackPattern,
    PullbackStep,
    PullbackTrace,
)
from arteriole.episodes.pullback_words import NO_PACE_BY_HAND, NO_PACE_BY_MOTOR, Told, sentence_of
from arteriole.episodes.trend import Trend, running_median
from arteriole.recording.channel import Samples
from arteriole.signal import Flags

AROUND_S = 15.0  # before and after, for the levels at both ends: some breaths; decision 0026
LEAST_BEATS = 3
PLACES = 81  # points along the way
WINDOW_MM = 20.0  # the largest drop is searched over this length [Collet2019]
DISEASE_PER_MM = 0.0015  # a stretch that loses more per mm is diseased [Collet2019], from memory
STEP_DROP = 0.04  # least drop that is called a step; our choice, decision 0043
STEP_TIMES, STEP_EDGE = 2.5, 1.4  # times the whole: a step is this steep, and ends below this
STEP_SD = 0.011  # of a step's size: where it begins and ends is not sharp; decision 0026
PLACE_SD_MM = 8.0  # of a step's place, a hand that draws unevenly; decision 0026
FOCAL, DIFFUSE = 0.73, 0.47  # printed thirds of the index, from memory; only words depend on it
#: Of the index: a hand that draws unevenly, against a motor [Sonck2022]; decision 0026.
INDEX_SD = 0.06
INDEX_SD_UNSEEN = 0.09  # where the beginning of the motion left no sure trace; decision 0026
DROP_FLOOR = 0.003  # of a drop between two means; our choice, decision 0026
HALF = 0.5
ALIKE_BEATS = 8.0  # the drug makes the ratio wander longer than a breath; decision 0026
COVER = 1.96  # standard deviations of a 95 % interval
RECTANGLE = 3.0**0.5  # half-width over standard deviation of a rectangle [JCGM101]
#: Predicted and measured FFR after the stent: 95 % limits of agreement [GradientOutcome2025].
PREDICTED = 0.10
START_NOT_SEEN = "the beginning left no sure trace"
DURATION_S, FLOOR_S = 9.0, 1.0  # 95 % of durations are found within this; decision 0029


def gradient_index(place_mm: Samples, ratio: Samples) -> tuple[float, float, float]:
    """Return (index, largest drop over 20 mm, diseased share).

    Parameters
    ----------
    place_mm : Samples
        Shape (n,), mm from the guide, rising.
    ratio : Samples
        Shape (n,), Pd/Pa there, falling with the distance.

    Source
    ------
    [Collet2019]: half the largest drop over 20 mm as a share of the whole, half the healthy share
    of the length; the constants are from memory.
    """
    total = float(ratio[0] - ratio[-1])
    length = float(place_mm[-1] - place_mm[0])
    if total <= 0 or length <= 0:
        return 0.0, 0.0, 0.0
    ahead = np.interp(place_mm + WINDOW_MM, place_mm, ratio)
    largest = float(np.max(ratio - ahead))
    slope = -np.gradient(ratio, place_mm)
    sick = float(np.mean(slope > DISEASE_PER_MM))
    return (min(largest / total, 1.0) + 1.0 - sick) / 2.0, largest, sick


def falling(values: Samples) -> Samples:
    """Return the closest falling row in the least-squares sense (pool adjacent violators)."""
    sums: list[float] = []
    sizes: list[int] = []
    for value in values:
        sums.append(float(value))
        sizes.append(1)
        while len(sums) > 1 and sums[-1] / sizes[-1] > sums[-2] / sizes[-2]:
            total, size = sums.pop(), sizes.pop()
            sums[-1] += total
            sizes[-1] += size
    return np.repeat([s / n for s, n in zip(sums, sizes, strict=True)], sizes)


def measure_pullback(
    trend: Trend,
    episode: Episode,
    length_mm: float | None,
    offset_mmhg: float,
    *,
    speed_mm_s: float | None = None,
    drift_mmhg_s: float = 0.0,
    moved_mmhg: float = 0.0,
) -> PullbackTrace | None:
    """Return the pullback as measured, or None when too few clean beats lie in it.

    ``offset_mmhg`` (Pd minus Pa at the guide, afterwards) is removed from Pd, and half of
    ``drift_mmhg_s``, its mean change between both gauge checks: it came evenly or at once.
    ``moved_mmhg``, the whole of that change, may have come during the pullback or not at all: its
    part is a doubt of the drop. An even
    withdrawal is assumed: the place along the way is the time along the pullback. ``speed_mm_s`` of
    a motor gives the length where it is not known, and the start where it left no trace; without
    either the place is in s.
    """
    seen = START_NOT_SEEN not in episode.note
    start, end = episode.start_s, episode.end_s
    if speed_mm_s is not None and length_mm is not None and not seen:
        start, seen = end - length_mm / speed_mm_s, True
    told_s = None  # by length and speed, where the recording has a say of its own
    if speed_mm_s is not None and length_mm is not None and START_NOT_SEEN not in episode.note:
        told_s = length_mm / speed_mm_s
    long = end - start
    if length_mm is None and speed_mm_s is not None and seen:
        length_mm = speed_mm_s * long
    part = trend.between(start - AROUND_S, end + AROUND_S)
    t = part.time_s
    distal, proximal = t < start, t > end
    if distal.sum() < LEAST_BEATS or proximal.sum() < LEAST_BEATS:
        return None
    since = HALF * drift_mmhg_s * np.minimum(t - end, 0.0)
    beat = (part.pd_mmhg - offset_mmhg - since) / part.pa_mmhg
    ratio = running_median(beat, 3)
    low, high = float(np.median(ratio[distal])), float(np.median(ratio[proximal]))
    share = (t - start) / long
    back = 1.0 - np.linspace(0.0, 1.0, PLACES)  # share of the way, from the guide outwards
    profile = np.clip(falling(np.interp(back, share, ratio)), low, max(high, low))
    profile[0], profile[-1] = max(high, low), low  # both ends are means of several beats
    place = np.linspace(0.0, length_mm if length_mm is not None else long, PLACES)
    drop_sd = float(
        np.sqrt(DROP_FLOOR**2 + _error(beat[distal]) ** 2 + _error(beat[proximal]) ** 2)
    )
    state = "hyperaemia" if episode.phase == "hyperaemia" else "rest"
    # Of the whole change none or all may lie in the pullback: the drop is truly larger by this.
    pa = float(np.median(part.pa_mmhg))
    taken = HALF * drift_mmhg_s * (end - float(np.mean(t[distal])))
    ends = (taken / pa, (taken - moved_mmhg) / pa)
    beyond = (min(ends), max(ends))
    steps = _steps(
        place, profile, (start, end), length_mm, drop_sd, beyond, hyperaemic=state != "rest"
    )
    even, even95, why = _evenness(long, told_s, by_motor=speed_mm_s is not None)
    apart = even95 is not None and even95[1] < 1.0  # as PullbackTrace.apart
    doubt = index_sd(start_seen=seen)
    if apart and told_s is not None:
        doubt = float(np.hypot(doubt, _by_other_ways(place, profile, long, told_s) / RECTANGLE))
    pattern, certainty = _pattern(place, profile, length_mm, doubt, seen=seen)
    if apart or (state == "rest" and length_mm is not None):
        certainty = "cannot say"
    return PullbackTrace(
        state=state, start_s=start, end_s=end,  # type: ignore[arg-type]
        place=tuple(float(x) for x in place), place_unit="mm" if length_mm is not None else "s",
        ratio=tuple(float(x) for x in profile), steps=steps, evenness=even,
        sentence=sentence_of(Told(
            drop=float(profile[0] - profile[-1]), steps=steps, pattern=pattern,
            certainty=certainty, place_known=length_mm is not None, state=state, seen=seen,
            index=gradient_index(place, profile)[0], limits=(DIFFUSE, FOCAL),
            evenness=even, evenness95=even95, evenness_reason=why,
        )),
        pattern=pattern, certainty=certainty, start_seen=seen, drop_sd=drop_sd,
        drop_beyond=beyond, gradient_index_sd=None if length_mm is None else doubt,
        mean_speed_mm_s=None if length_mm is None else length_mm / long,
        evenness95=even95, evenness_reason=why,
    )  # fmt: skip


def _evenness(
    long_s: float, told_s: float | None, *, by_motor: bool
) -> tuple[float | None, tuple[float, float] | None, str]:
    """Return evenness, its 95 % interval and, where it cannot be said, the reason."""
    if told_s is None:
        return None, None, NO_PACE_BY_MOTOR if by_motor else NO_PACE_BY_HAND
    at_ends = [
        min(told_s, s) / max(told_s, s)
        for s in (max(long_s - DURATION_S, FLOOR_S), long_s, long_s + DURATION_S)
    ]
    high = 1.0 if abs(long_s - told_s) <= DURATION_S else max(at_ends)
    return at_ends[1], (min(at_ends), high), ""


def _error(row: Samples) -> float:
    """Return the standard error of a mean over beats, beats of one wandering alike."""
    return float(np.std(row) / np.sqrt(max(row.size / ALIKE_BEATS, 1.0)))


def _steps(
    place: Samples, profile: Samples, span_s: tuple[float, float], length_mm: float | None,
    drop_sd: float, beyond: tuple[float, float], *, hyperaemic: bool,
) -> tuple[PullbackStep, ...]:  # fmt: skip
    total = float(profile[0] - profile[-1])
    slope = -np.gradient(profile, place)
    mean = total / float(place[-1])
    found: list[PullbackStep] = []
    for a, b in _stretches(slope > STEP_EDGE * mean):
        if not (slope[a:b] > STEP_TIMES * mean).any():
            continue
        lo, hi = max(a - 1, 0), min(b, place.size - 1)
        drop = float(profile[lo] - profile[hi])
        if drop < STEP_DROP:
            continue
        half = COVER * float(np.hypot(drop_sd, STEP_SD))
        span = span_s[1] - span_s[0]
        left = min(float(profile[-1]) + drop, 1.0)
        centre = float(place[lo] + place[hi]) / 2.0
        around = COVER * PLACE_SD_MM
        found.append(PullbackStep(
            start_s=float(span_s[1] - span * hi / (PLACES - 1)),
            end_s=float(span_s[1] - span * lo / (PLACES - 1)),
            start_mm=float(place[lo]) if length_mm is not None else None,
            end_mm=float(place[hi]) if length_mm is not None else None,
            drop=drop, interval95=(
                drop - float(np.hypot(half, min(beyond[0], 0.0))),
                drop + float(np.hypot(half, max(beyond[1], 0.0))),
            ),
            centre95_mm=(max(centre - around, 0.0), min(centre + around, length_mm))
            if length_mm is not None else None,
            would_leave=left if hyperaemic else None,
            would_leave95=(left - PREDICTED, min(left + PREDICTED, 1.0)) if hyperaemic else None,
        ))  # fmt: skip
    return tuple(found)


def _stretches(flags: Flags) -> list[tuple[int, int]]:
    """Return runs of flags as (first, one after the last)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def index_sd(*, start_seen: bool) -> float:
    """Return the standard uncertainty of the gradient index of a pullback by hand."""
    return INDEX_SD if start_seen else INDEX_SD_UNSEEN


def _by_other_ways(place: Samples, profile: Samples, long_s: float, told_s: float) -> float:
    """Return how far the index may be off where found and told duration disagree.

    Either the length is not what was told (then it is speed times the time found), or the beginning
    was found wrong (then the way of the told time holds what was seen, and a rest that lost
    nothing); decision 0097.
    """
    usual = gradient_index(place, profile)[0]
    shorter = place * long_s / told_s
    as_told = np.interp(place, shorter, profile)
    return max(
        abs(gradient_index(shorter, profile)[0] - usual),
        abs(gradient_index(place, as_told)[0] - usual),
    )


def _pattern(
    place: Samples, profile: Samples, length_mm: float | None, doubt: float, *, seen: bool
) -> tuple[PullbackPattern, PullbackCertainty]:
    if length_mm is None:
        return "not known", "cannot say"
    if float(profile[0] - profile[-1]) < STEP_DROP:
        return "no clear drop", "cannot say"
    index, _, _ = gradient_index(place, profile)
    pattern: PullbackPattern = (
        "focal" if index >= FOCAL else "diffuse" if index <= DIFFUSE else "mixed"
    )
    low, high = index - COVER * doubt, index + COVER * doubt
    if not any(low <= limit <= high for limit in (DIFFUSE, FOCAL)):
        return pattern, "clear of the line"
    return pattern, "near the line" if seen else "cannot say"
