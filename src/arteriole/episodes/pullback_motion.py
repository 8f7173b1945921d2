"""When the wire began to move: before the ratio climbs, the wave at the sensor already tells.

Two signs, taken together, for a stretch that loses nothing leaves the mean ratio as it is:

- the ratio's slow slope changes, for every artery loses a little along its way;
- the wave at the sensor comes earlier or later against the wave at the guide: travel time and the
  inertia of the blood between both depend on the place.

Both may drift by themselves (the drug, breathing), so what is looked for is a change of slope, and
for the wave also a step. How long a pullback by hand takes is known well enough to settle ties.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Grid
from arteriole.signal.graded import Quality

BINS = 28  # of the wave from its foot on
BEFORE_FOOT_S, AFTER_FOOT_S = 0.06, 0.50
REFERENCE_SHARE, REFERENCE_BEATS = 0.4, 12  # the first beats looked at: the sensor still in place
FLOOR_MMHG = 0.1  # of the wave's own scatter, so that a quiet wave is not trusted beyond the gauge
LOOK_S = 50.0  # before the steep climb
SETTLED_S = 6.0  # at least this much before the motion
STEP_S = 0.5  # the start is told to this
ALIKE_BEATS = 3.0  # waves of one breath are alike; our choice, decision 0061
ALIKE_RATIOS = 8.0  # the drug makes the ratio wander longer than a breath; decision 0026
#: A pullback by hand: some 80 mm at 2 to 5 mm/s; common practice, no source; decision 0026.
USUAL_S, USUAL_LN_SD = 25.0, 0.45
FEWEST = 20
LEAST_WAVES = 3
#: Of Pa's pulse: waves at the guide and in the vessel that differ by less tell nothing; and the
#: last one must be this much nearer to that of rest. Our choice, decision 0026.
TELLS_APART, NEARER = 0.006, 0.5
SURE = 6.0  # twice the log of the likelihood ratio against no motion; our choice, decision 0026

Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """When the wire began to move, s, and twice the log likelihood ratio for it."""

    start_s: float
    evidence: float

    @property
    def seen(self) -> bool:
        """Whether the beginning was seen, not only assumed."""
        return self.evidence >= SURE


def find_onset(
    grid: Grid, beats: Beats, quality: Quality, trend: Trend, from_s: float, climb_s: float,
    end_s: float,
) -> Onset | None:  # fmt: skip
    """Return when the wire began to move, or None when too few beats tell.

    Parameters
    ----------
    grid, beats, quality, trend
        Of the whole recording.
    from_s : float
        The ratio is free of injections from here on, s.
    climb_s, end_s : float
        When the ratio is on its steep way up, and when the sensor is at the guide, s.

    Look-ahead: to ``climb_s``.
    """
    time, gap, pa = waves(grid, beats, quality, max(from_s, climb_s - LOOK_S), climb_s)
    n = time.size
    if n < FEWEST:
        return None
    part = trend.between(time[0] - 1.0, climb_s + 1.0)
    ratio = np.interp(time, part.time_s, part.ratio)
    rows = [_scaled(ratio), _scaled(lead(gap, pa))]
    still = 0.0
    for k, row in enumerate(rows):
        columns = [np.ones(n), time - time[0]] if k else [np.ones(n)]
        still += _misfit(row, columns, (ALIKE_RATIOS, ALIKE_BEATS)[k])
    best: Onset | None = None
    for start in np.arange(time[0] + SETTLED_S, climb_s - STEP_S, STEP_S):
        after = np.maximum(time - start, 0.0)
        lines = [np.ones(n), after, time - start]
        cost = _misfit(rows[0], lines, ALIKE_RATIOS, rising=True)
        cost += _misfit(rows[1], [*lines, (time >= start).astype(np.float64)], ALIKE_BEATS)
        cost += (np.log(max(end_s - start, 1.0) / USUAL_S) / USUAL_LN_SD) ** 2
        if best is None or still - cost > best.evidence:
            best = Onset(start_s=float(start), evidence=float(still - cost))
    return best


def waves(
    grid: Grid, beats: Beats, quality: Quality, start_s: float, end_s: float,
    *, shaped: bool = False,
) -> tuple[Samples, Matrix, Matrix]:  # fmt: skip
    """Return times of regular sound beats, their Pd minus Pa and their Pa, ``BINS`` means each.

    None of them where the rate is too low for so many bins. ``shaped``: only beats whose shape is
    sound on both channels.
    """
    rate = grid.rate_hz
    lead_in, length = round(BEFORE_FOOT_S * rate), round((BEFORE_FOOT_S + AFTER_FOOT_S) * rate)
    if length < BINS:
        return np.empty(0), np.empty((0, BINS)), np.empty((0, BINS))
    used = beats.between(start_s, end_s) & quality.clean & ~beats.on_pd
    used &= quality.shape_ok if shaped else True
    first = beats.start_i[used] - lead_in
    fits = (first >= 0) & (first + length <= grid.pa_mmhg.size)
    first = first[fits]
    edges = np.linspace(0, length, BINS + 1).astype(np.int64)
    at = first[:, None] + np.arange(length)[None, :]
    pa = _binned(grid.pa_mmhg[at], edges)
    gap = _binned(grid.pd_mmhg[at] - grid.pa_mmhg[at], edges)
    known = np.isfinite(gap).all(axis=1)
    return beats.start_s[used][fits][known], gap[known], pa[known]


def has_faded(
    grid: Grid, beats: Beats, quality: Quality,
    guide_s: tuple[float, float], vessel_s: tuple[float, float], end_s: tuple[float, float],
) -> bool:  # fmt: skip
    """Return whether the wave at the end is that of rest in the vessel, not that at the guide.

    Hyperaemia that fades lets Pd/Pa climb as a pullback does; the wave tells both apart, whatever
    the gauges did. False where the two waves are alike, or one was not recorded soundly.

    Parameters
    ----------
    grid, beats, quality
        Of the whole recording.
    guide_s, vessel_s, end_s : (float, float)
        Both sensors at the guide tip; rest with the sensor in place; the last seconds, s.
    """
    rows = []
    for start, end in (guide_s, vessel_s, end_s):
        _, gap, pa = waves(grid, beats, quality, start, end, shaped=True)
        if gap.shape[0] < LEAST_WAVES:
            return False
        shape = (gap - gap.mean(axis=1, keepdims=True)).mean(axis=0)
        rows.append(shape / max(float(np.ptp(pa.mean(axis=0))), 1.0))
    guide, vessel, last = rows
    apart = [float(np.sqrt(np.mean((a - b) ** 2)))
             for a, b in ((guide, vessel), (last, guide), (last, vessel))]  # fmt: skip
    return apart[0] > TELLS_APART and apart[2] < NEARER * apart[1]


def lead(gap_mmhg: Matrix, pa_mmhg: Matrix) -> Samples:
    """Return how much earlier than in the first beats Pd's wave comes, in bins, shape (n,).

    The change of the gap's shape along Pa's own slope, weighted against what else moves it.
    """
    shape = gap_mmhg - gap_mmhg.mean(axis=1, keepdims=True)
    first = slice(0, max(REFERENCE_BEATS, int(REFERENCE_SHARE * shape.shape[0])))
    usual = shape[first].mean(axis=0)
    scatter = np.cov(shape[first].T) + FLOOR_MMHG**2 * np.eye(shape.shape[1])
    slope = np.gradient(pa_mmhg[first].mean(axis=0))
    slope = slope - slope.mean()
    weight = np.linalg.solve(scatter, slope)
    return np.asarray((shape - usual) @ weight / float(weight @ slope))


def _binned(rows: Matrix, edges: npt.NDArray[np.int64]) -> Matrix:
    if not rows.size:
        return np.empty((rows.shape[0], edges.size - 1))
    return np.asarray(np.add.reduceat(rows, edges[:-1], axis=1) / np.diff(edges))


def _scaled(row: Samples) -> Samples:
    step = np.diff(row)
    noise = 1.4826 * float(np.median(np.abs(step - np.median(step)))) / 2.0**0.5
    return np.asarray(row / max(noise, 1e-9))


def _misfit(row: Samples, columns: list[Samples], alike: float, *, rising: bool = False) -> float:
    """Return -2 log likelihood of a row explained by columns, ``alike`` beats counting as one.

    ``rising``: it must end upwards.
    """
    table = np.column_stack(columns)
    found, *_ = np.linalg.lstsq(table, row, rcond=None)
    if rising and found[1] + found[2] < 0.0:
        return float("inf")
    left = float(((row - table @ found) ** 2).sum())
    return row.size / alike * float(np.log(max(left, 1e-9)))
