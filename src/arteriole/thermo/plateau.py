"""Steady stretches of a trace on an even grid: the steadiest, and when blood is left."""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples

STEP_S = 0.1  # grid of the search, s; decision 0054
LATE_IF = 2.0  # a later window may be this much less steady; decision 0054
SHORTEST_S = 2.0  # a shorter plateau is none; decision 0054
ONSET_DROP_C = 0.06  # below blood: the infusion is felt; decision 0054


@dataclass(frozen=True, slots=True, kw_only=True)
class Plateau:
    """A steady stretch: mean, SD of the smoothed trace in it, slope, and where it lies."""

    mean_c: float
    sd_c: float
    slope_c_s: float
    mean_sd_c: float
    start_s: float
    end_s: float

    @property
    def climb_c(self) -> float:
        """What a straight line climbs from its start to its end, °C."""
        return self.slope_c_s * (self.end_s - self.start_s)


def moving(values: Samples, width: int) -> Samples:
    """Return the centred moving mean over ``width`` samples, ends held; shape kept."""
    width = max(width, 1)
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), "valid")


def steadiest(
    temp: Samples, t: Samples, from_s: float, to_s: float, longest_s: float, *,
    late: bool = False, steady_c: float = 0.0,
) -> Plateau | None:  # fmt: skip
    """Return the steadiest stretch between two times, at most ``longest_s`` long.

    ``late``: the latest that is about as steady as the steadiest, or steadier than ``steady_c``
    (SD plus half the climb, °C), since mixing settles slowly.
    ``temp``, ``t`` shape (n,), °C and s on a grid of ``STEP_S``.
    """
    span = to_s - from_s
    if span < SHORTEST_S:
        return None
    index = np.flatnonzero((t >= from_s) & (t <= to_s))
    width = min(int(min(longest_s, span) / STEP_S), index.size)
    if width < 2:
        return None
    x = (np.arange(width) - 0.5 * (width - 1)) * STEP_S
    smooth = moving(temp, int(1.0 / STEP_S))
    windows = np.lib.stride_tricks.sliding_window_view(smooth[index], width)
    slope = windows @ x / float(x @ x)
    spread = windows.std(axis=1)
    score = spread + 0.5 * np.abs(slope) * width * STEP_S
    k = int(np.argmin(score))
    if late:
        k = int(np.flatnonzero(score <= max(LATE_IF * score[k], steady_c))[-1])
    part = temp[index[k] : index[k] + width]
    return _plateau(part, float(t[index[k]]), float(slope[k]), float(spread[k]))


def left_blood_s(temp: Samples, t: Samples, near_s: float) -> float:
    """Return when the temperature leaves blood for good, s, near the episode's start."""
    smooth = moving(temp, int(0.5 / STEP_S))
    before = smooth[(t > near_s - 6.0) & (t < near_s - 1.0)]
    if before.size < 10:
        return near_s
    level = float(np.percentile(before, 75.0))
    noise = float(np.std(np.diff(before)))
    low = smooth < level - max(ONSET_DROP_C, 4.0 * noise)
    ahead = np.flatnonzero(low & (t > near_s - 4.0) & (t < near_s + 15.0))
    for k in ahead:
        if low[k : k + int(4.0 / STEP_S)].all():
            return float(t[k]) - 0.3
    return near_s


def _plateau(part: Samples, start_s: float, slope: float, spread: float) -> Plateau:
    blocks = max(part.size // int(1.0 / STEP_S), 1)
    means = np.array([b.mean() for b in np.array_split(part, blocks)])
    sem = float(means.std(ddof=1) / np.sqrt(blocks)) if blocks > 1 else spread
    return Plateau(
        mean_c=float(part.mean()), sd_c=spread, slope_c_s=slope, mean_sd_c=max(sem, 1e-4),
        start_s=start_s - 0.5 * STEP_S, end_s=start_s + (part.size - 0.5) * STEP_S,
    )  # fmt: skip
