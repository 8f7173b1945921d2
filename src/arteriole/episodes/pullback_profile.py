"""The ratio along the pullback: profile, steps, gradient index."""

import numpy as np

from arteriole.episodes.episode import Episode
from arteriole.episodes.pullback_trace import PullbackStep, PullbackTrace
from arteriole.episodes.trend import Trend, running_median
from arteriole.recording.channel import Samples

AROUND_S = 15.0  # before and after, for the levels at both ends: some breaths; decision 0026
LEAST_BEATS = 3
PLACES = 81  # points along the way
WINDOW_MM = 20.0  # the largest drop is searched over this length [Collet2019]
DISEASE_PER_MM = 0.0015  # a stretch that loses more per mm is diseased [Collet2019], from memory
STEP_DROP = 0.04  # least drop that is called a step; our choice, decision 0043
STEP_TIMES = 2.5  # a step is at least this much steeper than the whole
FOCAL, DIFFUSE = 0.73, 0.47  # printed thirds of the index, from memory; only words depend on it


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
    trend: Trend, episode: Episode, length_mm: float | None, offset_mmhg: float
) -> PullbackTrace | None:
    """Return the pullback as measured, or None when too few clean beats lie in it.

    ``offset_mmhg`` (Pd minus Pa at the guide) is removed from Pd. An even withdrawal is assumed:
    the place along the way is the time along the pullback; without a length the place is in s.
    """
    part = trend.between(episode.start_s - AROUND_S, episode.end_s + AROUND_S)
    t = part.time_s
    distal, proximal = t < episode.start_s, t > episode.end_s
    if distal.sum() < LEAST_BEATS or proximal.sum() < LEAST_BEATS:
        return None
    ratio = running_median((part.pd_mmhg - offset_mmhg) / part.pa_mmhg, 3)
    low, high = float(np.median(ratio[distal])), float(np.median(ratio[proximal]))
    share = (t - episode.start_s) / (episode.end_s - episode.start_s)
    back = 1.0 - np.linspace(0.0, 1.0, PLACES)  # share of the way, from the guide outwards
    profile = np.clip(falling(np.interp(back, share, ratio)), low, max(high, low))
    profile[0], profile[-1] = max(high, low), low  # both ends are means of several beats
    scale = length_mm if length_mm is not None else episode.end_s - episode.start_s
    place = np.linspace(0.0, scale, PLACES)
    noise = float(np.std(part.ratio - part.level)) if part.ratio.size > 3 else 0.0
    steps = _steps(place, profile, episode, length_mm, noise)
    return PullbackTrace(
        state="hyperaemia" if episode.phase == "hyperaemia" else "rest",
        start_s=episode.start_s, end_s=episode.end_s,
        place=tuple(float(x) for x in place), place_unit="mm" if length_mm is not None else "s",
        ratio=tuple(float(x) for x in profile), steps=steps, evenness=None,
        sentence=_sentence(place, profile, length_mm, steps),
    )  # fmt: skip


def _steps(
    place: Samples, profile: Samples, episode: Episode, length_mm: float | None, noise: float
) -> tuple[PullbackStep, ...]:
    total = float(profile[0] - profile[-1])
    slope = -np.gradient(profile, place)
    steep = slope > STEP_TIMES * total / float(place[-1])
    edges = np.flatnonzero(np.diff(np.concatenate(([0], steep.astype(np.int8), [0]))))
    found: list[PullbackStep] = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        lo, hi = max(int(a) - 1, 0), min(int(b), place.size - 1)
        drop = float(profile[lo] - profile[hi])
        if drop < STEP_DROP:
            continue
        half = 1.96 * max(noise, 0.003)
        span = episode.end_s - episode.start_s
        found.append(PullbackStep(
            start_s=float(episode.end_s - span * hi / (PLACES - 1)),
            end_s=float(episode.end_s - span * lo / (PLACES - 1)),
            start_mm=float(place[lo]) if length_mm is not None else None,
            end_mm=float(place[hi]) if length_mm is not None else None,
            drop=drop, interval95=(drop - half, drop + half),
        ))  # fmt: skip
    return tuple(found)


def _sentence(
    place: Samples, profile: Samples, length_mm: float | None, steps: tuple[PullbackStep, ...]
) -> str:
    total = float(profile[0] - profile[-1])
    said = f"Pd/Pa falls by {total:.2f} along the vessel"
    if steps:
        said += f", {sum(s.drop for s in steps):.2f} of it in {len(steps)} step" + (
            "s" if len(steps) > 1 else ""
        )
    if length_mm is None:
        return said + "; the length was not recorded, so places are in seconds of an uneven hand."
    index, _, _ = gradient_index(place, profile)
    word = "focal" if index >= FOCAL else "diffuse" if index <= DIFFUSE else "mixed"
    if total < STEP_DROP:
        word = "no clear"
    return said + f"; {word} pattern if the withdrawal was even (assumed, not measured)."
