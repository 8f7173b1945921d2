"""Blood's own temperature under an infusion, from the blood seen before and after it.

Blood wanders by some hundredths of a degree, and 0.01 °C is 2 % of flow. What is seen on both sides
is joined to the time of the mixed plateau by the best linear estimate for a wander of given memory
(kriging with an unknown mean), after the recovery from cold was taken off::

    B(t) = level + wander(t)            seen = B(t) - A exp(-(t - t0) / tau)   after something cold
"""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples

BLOCK_S = 1.0  # means that enter the estimate
REACH_S = 60.0  # how far from the infusion blood is looked for, s; decision 0014
NEAR_C = 0.12  # a stretch ends where a second's mean leaves its level by more; decision 0014
CLEAR_S = 3.0  # skipped after the infusate: the sensor returns; decision 0014
FELT_S = 1.0  # skipped before the onset, which is seen late by up to this, s; decision 0014
#: Recovery of sensor and wall after something cold, s; decision 0014.
RECOVERY_S = (1.5, 2.5, 4.0)
RECOVERY_LASTS_S = 20.0
RECOVERY_SHARE = 0.3  # SD of the recovery that was taken off, share of it; decision 0014
MEMORY_S = 30.0  # of the wander; decision 0014
#: Wander believed before any is seen (SD, °C) and how many independent looks that is worth.
PRIOR_SD_C, PRIOR_LOOKS = 0.025, 3.0
LAG_BLOCKS = 8  # blocks apart at which wander is measured
NOISE_SD_C = 0.004  # of a block's mean; decision 0014
LEAST_BLOCKS = 3
MOVED_C = 0.12  # before and after differ by more: the baseline moved; decision 0014


Side = tuple[Samples, Samples, Samples]  # times, levels, SD of each


@dataclass(frozen=True, slots=True, kw_only=True)
class Blood:
    """Blood's temperature at the mixed plateau, °C, with its standard uncertainty.

    ``before_c``, ``after_c``: levels of the two sides, None where not seen; ``seen_s``: where
    blood was seen, as (start, end); ``wander_c``: SD of the wander.
    """

    mean_c: float
    sd_c: float
    wander_c: float
    before_c: float | None
    after_c: float | None
    seen_s: tuple[tuple[float, float], ...]

    @property
    def moved_c(self) -> float:
        """After minus before; 0 where only one side was seen."""
        if self.before_c is None or self.after_c is None:
            return 0.0
        return self.after_c - self.before_c

    @property
    def moved(self) -> bool:
        """Whether the two sides differ by more than wander explains."""
        return abs(self.moved_c) > max(MOVED_C, 4.0 * self.wander_c)


def find_blood(
    t_s: Samples, temp_c: Samples, *, onset_s: float, gone_s: float, at_s: tuple[float, float]
) -> Blood | None:
    """Return blood's temperature over ``at_s``, None where neither side shows any.

    Parameters
    ----------
    t_s, temp_c : Samples
        Shape (n,), uniform, s and °C, no gaps.
    onset_s, gone_s : float
        From when to when the infusion is felt.
    at_s : tuple
        Start and end of the mixed plateau.
    """
    step = float(t_s[1] - t_s[0])
    width = max(round(BLOCK_S / step), 1)
    before = _blocks(t_s, temp_c, onset_s - REACH_S, onset_s - FELT_S, width)
    after = _blocks(t_s, temp_c, gone_s + CLEAR_S, gone_s + CLEAR_S + REACH_S, width)
    sides = [_level_back(*before), _level_on(*after)]
    known = [s for s in sides if s[0].size >= LEAST_BLOCKS]
    if not known:
        return None
    x, y, noise = (np.concatenate([s[k] for s in known]) for k in range(3))
    wander = _wander(known)
    target = np.arange(at_s[0], at_s[1] + 1e-9, BLOCK_S)
    means = [float(s[1].mean()) if s[0].size >= LEAST_BLOCKS else None for s in sides]
    mean, sd = _krige(x, y, noise, target, wander)
    return Blood(
        mean_c=mean, sd_c=sd, wander_c=wander, before_c=means[0], after_c=means[1],
        seen_s=tuple((float(s[0][0]), float(s[0][-1])) for s in known),
    )  # fmt: skip


def _blocks(
    t: Samples, temp: Samples, from_s: float, to_s: float, width: int
) -> tuple[Samples, Samples]:
    k = np.flatnonzero((t >= from_s) & (t <= to_s))
    n = k.size // width
    if n == 0:
        return np.empty(0), np.empty(0)
    k = k[k.size - n * width :]
    return t[k].reshape(n, width).mean(axis=1), temp[k].reshape(n, width).mean(axis=1)


def _level_back(t: Samples, y: Samples) -> Side:
    """Return the stretch that ends at the onset and stays near its level, recovery taken off."""
    if y.size < LEAST_BLOCKS:
        return _plain(t, y)
    near = np.abs(y - np.median(y[-4:])) < NEAR_C
    far = np.flatnonzero(~near)
    first = int(far[-1]) + 1 if far.size else 0
    cold = first > 0 and y[first - 1] < y[-1]
    return _recovered(t[first:], y[first:]) if cold else _plain(t[first:], y[first:])


def _level_on(t: Samples, y: Samples) -> Side:
    """Return the stretch after the infusate that stays near its level, recovery taken off."""
    for start in range(3, y.size - 3):
        part = y[start : start + 4]
        if np.ptp(part) < NEAR_C / 2.0:
            level = float(np.median(part))
            near = np.abs(y - level) < NEAR_C
            first = start
            while first > 0 and near[first - 1]:
                first -= 1
            far = np.flatnonzero(~near[start:])
            last = (
                start + int(far[0]) - 2 if far.size else y.size
            )  # the last two may be in the fall
            return _recovered(t[first:last], y[first:last])
    return _plain(np.empty(0), np.empty(0))


def _plain(t: Samples, y: Samples) -> Side:
    return t, y, np.full(y.size, NOISE_SD_C)


def _recovered(t: Samples, y: Samples) -> Side:
    """Return the stretch with an exponential recovery from cold taken off, where it helps."""
    if y.size < 2 * LEAST_BLOCKS:
        return _plain(t, y)
    best, least, span = np.zeros(y.size), np.inf, t - t[0]
    early = span < RECOVERY_LASTS_S
    for tau in RECOVERY_S:
        shape = np.exp(-span / tau)
        x = shape[early] - shape[early].mean()
        tail = min(float(x @ y[early] / (x @ x)), 0.0) * shape
        error = float((y - tail)[early].std())
        if error < least:
            best, least = tail, error
    return t, y - best, np.hypot(NOISE_SD_C, RECOVERY_SHARE * best)


def _wander(sides: list[Side]) -> float:
    """Return the SD of the wander, from differences some seconds apart and what is usual."""
    squares, looks = PRIOR_LOOKS * PRIOR_SD_C**2, PRIOR_LOOKS
    share = 1.0 - np.exp(-LAG_BLOCKS * BLOCK_S / MEMORY_S)
    for t, y, _ in sides:
        if y.size > LAG_BLOCKS:
            moves = y[LAG_BLOCKS:] - y[:-LAG_BLOCKS]
            weight = float(t[-1] - t[0]) / MEMORY_S
            squares += weight * max(0.5 * float(moves @ moves) / moves.size / share, 0.0)
            looks += weight
    return float(np.sqrt(squares / looks))


def _krige(
    x: Samples, y: Samples, noise: Samples, target: Samples, wander: float
) -> tuple[float, float]:
    """Return the mean over ``target`` and its SD: wander of known memory, unknown mean."""
    near = np.exp(-np.abs(x[:, None] - x[None, :]) / MEMORY_S) * wander**2
    near[np.diag_indices(x.size)] += noise**2
    cross = (np.exp(-np.abs(x[:, None] - target[None, :]) / MEMORY_S) * wander**2).mean(axis=1)
    own = float((np.exp(-np.abs(target[:, None] - target[None, :]) / MEMORY_S)).mean()) * wander**2
    ones = np.ones(x.size)
    solved = np.linalg.solve(near, np.stack([cross, ones], axis=1))
    total = float(ones @ solved[:, 1])
    lack = (1.0 - float(ones @ solved[:, 0])) / total
    weights = solved[:, 0] + lack * solved[:, 1]
    variance = own - float(cross @ solved[:, 0]) + lack**2 * total
    return float(weights @ y), float(np.sqrt(max(variance, 0.0)))
