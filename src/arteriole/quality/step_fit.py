"""A step of Pd/Pa under breathing: fitted, not only seen, between twelve beats on either side.

Breathing moves Pd/Pa as much as a slip of the wire does, but it moves Pa too. So the ratio of up to
12 beats (14 s) on either side is explained by a level, a slow slope, the logarithms of Pa and of
the beat's length, Pa's change from the beat before to the beat after (a quarter of a breath
later), and a step; the four but the step are held near nothing by priors, and beats that fit badly
count less (Huber). The beat on the step may be left out. A step is one if it is sure, the rest is
level on either side, the three beats beside it show it too, and a ramp of 3 or 5 s in its place
explains the row worse. Our choice, decision 0028. Look-ahead: thirteen beats.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Indices
from arteriole.signal.smooth import robust_sd

Table = npt.NDArray[np.float64]
MOST, LONGEST_S, FEWEST = 12, 14.0, 6  # beats on either side
NEAR = 3  # beats right beside the step
LEAST = 0.0065  # of Pd/Pa
A_LOOK = 0.005  # a smaller difference of the beats beside it is not fitted
LIKELY = 0.75  # of the pairs of six beats on either side are in the right order
GAP_S = 1.0  # lost at the step itself, beyond the beat left out
BETWEEN = 0.3  # of the step: how far the beat left out may lie beyond either side
PA_STAYS, RATE_STAYS = 0.1, 0.25  # of ln; in fibrillation a dozen lengths differ by this much
LEAST_SD = 0.0008  # of Pd/Pa: no row is trusted beyond this
LEAST_SCALE = 0.0006  # the same, for what is called an outlier
OUTLIER = 2.0  # scales from the fit on a beat counts less
ROUNDS = 3  # of weighing anew
#: Standard deviations that are expected: slope 1/s, of Pa and of length and of a breath 1 per ln.
SLOPE_SD, PA_SD, LENGTH_SD, BREATH_SD = 0.003, 0.15, 0.05, 0.15
NOISE = 0.002  # of one beat, against which the priors are weighed
MOST_BREATH = 0.1  # of ln Pa
RAMPS_S = (3.0, 5.0)
APART_S = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """How plain a step must be; shares of the step or of what a ramp leaves."""

    sure: float  # its size over its standard error
    spread: float
    ramps: tuple[float, float]
    near: tuple[float, float]
    jump: tuple[float, float]  # between the two beats beside it
    lower: float  # share of pairs in the right order


#: A smaller spread needs less of a shape; the smallest does not ask which beat the step lies at. A
#: step that is sure and sharp need not explain the row better than a ramp: the slope stands in for
#: part of that.
LINES = (
    _Line(sure=4.0, spread=0.35, ramps=(0.75, 0.62), near=(0.7, 1.3), jump=(0.5, 1.5), lower=0.9),
    _Line(sure=6.0, spread=0.15, ramps=(9.0, 0.8), near=(0.8, 1.25), jump=(0.5, 9.0), lower=0.99),
    _Line(sure=6.0, spread=0.2, ramps=(1.05, 0.95), near=(0.85, 1.2), jump=(0.7, 1.3), lower=0.99),
    _Line(sure=6.0, spread=0.07, ramps=(9.0, 0.8), near=(0.8, 1.25), jump=(-9.0, 9.0), lower=0.99),
)
RETURNS_S, RETURNS = 30.0, 0.6  # a step that goes back so soon by this share is wandering


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    size: float
    left: float  # weighted sum of squares
    weight: Samples
    error: float  # of the size
    row: Samples  # the ratio without what Pa and the rate explain


def fitted_steps(beats: Beats, idx: Indices, ratio: Samples) -> list[tuple[int, float]]:
    """Return (place in ``idx`` of the first beat that is not the old level, step) of each step.

    Parameters
    ----------
    beats : Beats
        Of the whole recording.
    idx : array, shape (n,)
        The beats whose means are sound.
    ratio : array, shape (n,)
        Their Pd/Pa.
    """
    found: list[tuple[float, int, float]] = []
    table = _explained_by(beats, idx)
    start, length = beats.start_s[idx], beats.length_s[idx]
    for last, first in _places(beats, idx, ratio):
        used = np.r_[
            _side(start, last, -1), _side(start, first, 1)
        ]  # beats before the step, then those after
        before = int((used <= last).sum())
        if min(before, used.size - before) < FEWEST:
            continue
        sides = (used[:before], used[before:])
        moved = [
            abs(_median(row[sides[1]]) - _median(row[sides[0]]))
            for row in (table[:, 0], np.log(length))
        ]
        if moved[0] > PA_STAYS or moved[1] > RATE_STAYS:
            continue
        at = 0.5 * float(start[last] + start[first])
        sure = _plain(table[used], ratio[used], start[used] - at, before)
        if sure is not None:
            found.append((sure[0], last + 1, sure[1]))
    kept: list[tuple[int, float]] = []
    for _, k, size in sorted(found, reverse=True):
        if all(abs(float(start[k] - start[m])) > APART_S for m, _ in kept):
            kept.append((k, size))
    return sorted(
        (k, size)
        for k, size in kept
        if all(
            size * other > 0.0
            or abs(other) < RETURNS * abs(size)
            or abs(float(start[k] - start[m])) > RETURNS_S
            for m, other in kept
        )
    )


def _explained_by(beats: Beats, idx: Indices) -> Table:
    """Return ln Pa, ln length and Pa's change around each beat, shape (n, 3)."""
    level = np.log(np.where(beats.pa_mean_mmhg > 0.0, beats.pa_mean_mmhg, np.nan))
    breath = np.zeros(level.size)
    breath[1:-1] = level[2:] - level[:-2]
    breath = np.clip(np.nan_to_num(breath), -MOST_BREATH, MOST_BREATH)
    return np.column_stack((level[idx], np.log(beats.length_s[idx]), breath[idx]))


def _places(beats: Beats, idx: Indices, ratio: Samples) -> Iterator[tuple[int, int]]:
    """Yield the last beat before and the first after each place worth a fit."""
    start, end = beats.start_s[idx], beats.end_s[idx]
    length = beats.length_s[idx]
    if idx.size < 2 * FEWEST:
        return
    middle = np.median(np.lib.stride_tricks.sliding_window_view(ratio, NEAR), axis=1)
    for last in range(FEWEST - 1, idx.size - FEWEST):
        for first in (last + 1, last + 2):
            if first + NEAR > idx.size:
                continue
            skipped = float(length[last + 1]) if first > last + 1 else 0.0
            change = float(middle[first] - middle[last - NEAR + 1])
            if abs(change) < A_LOOK or start[first] - end[last] > skipped + GAP_S:
                continue
            low, high = sorted((float(ratio[last]), float(ratio[first])))
            old, new = ratio[last - FEWEST + 1 : last + 1], ratio[first : first + FEWEST]
            if float(np.mean(np.sign(change) * (new[:, None] - old[None, :]) > 0.0)) < LIKELY:
                continue
            spare = BETWEEN * abs(change)
            if first > last + 1 and not low - spare <= ratio[last + 1] <= high + spare:
                continue
            yield last, first


def _side(start_s: Samples, at: int, way: int) -> Indices:
    """Return the beats on one side, in order, the one at ``at`` included."""
    if way < 0:
        near = np.arange(max(at - MOST + 1, 0), at + 1)
    else:
        near = np.arange(at, min(at + MOST, start_s.size))
    return np.asarray(near[np.abs(start_s[near] - start_s[at]) <= LONGEST_S])


def _plain(
    table: Table, ratio: Samples, time_s: Samples, before: int
) -> tuple[float, float] | None:
    """Return (how sure, size) of a step before beat ``before`` of the row, None if none is."""
    step = np.where(np.arange(ratio.size) < before, -0.5, 0.5)
    fit = _fit(table, ratio, time_s, step)
    size = fit.size
    if abs(size) < LEAST:
        return None
    old, new = fit.row[:before], fit.row[before:]
    sure = abs(size) / fit.error
    spread = max(float(robust_sd(old)), float(robust_sd(new))) / abs(size)
    near = (_median(new[:NEAR]) - _median(old[-NEAR:])) / size
    jump = float(new[0] - old[-1]) / size
    lower = float(np.mean(np.sign(size) * (new[:, None] - old[None, :]) > 0.0))
    for line in LINES:
        if (
            sure >= line.sure
            and spread <= line.spread
            and line.near[0] < near < line.near[1]
            and line.jump[0] < jump < line.jump[1]
            and lower >= line.lower
            and all(
                fit.left <= most * _fit(table, ratio, time_s, np.clip(time_s / long_s, -0.5, 0.5),
                                        fit.weight).left
                for most, long_s in zip(line.ramps, RAMPS_S, strict=True)
            )
        ):  # fmt: skip
            return sure, size
    return None


def _fit(
    table: Table, ratio: Samples, time_s: Samples, shape: Samples,
    weight: Samples | None = None,
) -> _Fit:  # fmt: skip
    """Return the least squares of the row, with priors and, unless given, Huber's weights."""
    columns = np.column_stack((
        np.ones(ratio.size), time_s, table[:, 0] - table[:, 0].mean(),
        table[:, 1] - table[:, 1].mean(), table[:, 2], shape,
    ))  # fmt: skip
    prior = np.array([0.0, 1.0 / SLOPE_SD, 1.0 / PA_SD, 1.0 / LENGTH_SD, 1.0 / BREATH_SD, 0.0])
    held = np.diag((NOISE * prior) ** 2)
    w = np.ones(ratio.size) if weight is None else weight
    part, left, normal = _solved(columns, ratio, w, held)
    for _ in range(ROUNDS - 1 if weight is None else 0):
        scale = max(1.4826 * _median(np.abs(left)), LEAST_SCALE)
        w = np.minimum(1.0, OUTLIER * scale / np.maximum(np.abs(left), 1e-12))
        part, left, normal = _solved(columns, ratio, w, held)
    total = float((w * left**2).sum())
    noise = max(float(np.sqrt(total / max(float(w.sum()) - 4.0, 1.0))), LEAST_SD)
    return _Fit(
        size=float(part[-1]), left=total, weight=w,
        error=noise * float(np.sqrt(np.linalg.inv(normal)[-1, -1])),
        row=ratio - columns[:, 2:-1] @ part[2:-1],
    )  # fmt: skip


def _solved(
    columns: Table, ratio: Samples, weight: Samples, held: Table
) -> tuple[Samples, Samples, Table]:
    """Return coefficients, residuals and the normal matrix of weighted least squares."""
    normal = columns.T @ (weight[:, None] * columns) + held
    part = np.linalg.solve(normal, columns.T @ (weight * ratio))
    return np.asarray(part, dtype=np.float64), ratio - columns @ part, normal


def _median(x: Samples) -> float:
    return float(np.median(x))
