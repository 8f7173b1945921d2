"""A step of Pd/Pa: how much likelier the row of beats is with one than with wandering alone.

Breathing, the rhythm and the drug move Pd/Pa as much as a slip of the wire does, but not at once.
Up to 25 beats (20 s) on either side are taken as one Gaussian row: a level, a slow slope, what Pa,
the beat's length, the length before it and a breath explain, noise of each beat, a random walk and
an integrated random walk, the sizes of the last three unknown. The step's evidence is twice the
logarithm of the ratio of the two greatest likelihoods, with and without a step between two beats
(one beat between them may be left out). It is asked of the ratio of whole beats and of that of
diastole, which fibrillation and a range that cuts peaks off disturb less; where both are known,
both must move, and where Pa's own wave changes its shape diastole is not asked. A fall needs more
evidence than a rise: saline and drugs let Pd/Pa fall quickly and nothing lets it rise so. Our
choice, decision 0094. Look-ahead: 25 beats or 20 s.

A shift of the level among unobserved components: [Harvey1992].
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.quality.scene import Scene, pulse_over_usual
from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Flags, Indices

Table = npt.NDArray[np.float64]
MEAN, DIASTOLE = 0, 1  # the rows
MOST, LONGEST_S, FEWEST = 25, 20.0, 5  # beats on either side
LEFT_OUT = 1  # sound beats between the two sides, at most
GAP_S, FALL_GAP_S = 9.0, 1.0  # lost at the step itself, beyond the beat left out, at most
LEAST, LEAST_DIASTOLIC = 0.0065, 0.009  # of Pd/Pa; the second where the mean is not known
RISE, FALL = 17.0, 35.0  # twice the logarithm of the likelihoods' ratio
BESIDE = 10  # beats whose Pa, length and steepness are compared
LIKE = (0.5, 2.5)  # the other row's step over that of the row that shows the place
APART_S = 6.0  # of two steps nearer than this the one with more evidence is kept
PA_STAYS, RATE_STAYS = 0.15, 0.25  # of ln; in fibrillation a dozen lengths differ by this much
IN_ARTERY = (0.15, 1.25)  # of Pd/Pa: else the sensor lies in air or Pd is lost
# what is worth a fit
A_LOOK = 0.0055  # between the medians of five beats
NEAR, NEAR_S = 2, 10.0  # so many more beats on either side lie no further from the step
LIKELY = 0.75  # of the pairs of beats on either side are in the right order
PLAIN = 2.0  # deviations of what a fit of a step and a slope to ``SIDE`` beats a side leaves
NEARBY_S, MOST_NEARBY = 3.0, 4  # fits so near each other, at most
SIDE, HELD, LEAST_SD = 6, 2.0, 0.0006  # beats; seconds that hold the slope; of Pd/Pa
OTHER_GAP_S = 18.0  # between the sides in the row that does not show the place
# the row's wandering
SD = np.array((0.6, 0.9, 1.3, 2.0, 3.0, 4.5, 6.8, 10.0, 15.0, 22.0)) * 1e-3  # of a beat
WALK = np.array((0.0, 0.01, 0.1, 1.0, 10.0))  # variance per s, over that of a beat
SMOOTH = np.array((0.0, 0.4, 4.0, 40.0))  # the same, integrated: variance after ``LONGEST_S``
#: Standard deviations that are expected: level, slope in 1/s, then per ln of Pa, of length, of Pa's
#: change around the beat and of the length before, and of a breath.
LEVEL_SD, SLOPE_SD, TOLD_SD, BREATH_SD = 0.1, 0.003, np.array((0.15, 0.05, 0.15, 0.05)), 0.004
MOST_BREATH = 0.1  # of ln Pa, around a beat
BREATHS_HZ = np.arange(0.12, 0.5, 0.01)
BREATH_LOOK_S, BREATH_MOST_MMHG = 26.0, 8.0  # around the step; a swing of Pa beyond is cut
# the diastolic row
LIKE_USUAL = (0.75, 1.3)  # times the usual pulse: no flush
LINE = 0.2  # of ln: a change of Pa's steepness over its pulse that the fluid line makes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """A ratio of each beat, and the beats in which it is sound."""

    idx: Indices
    ratio: Samples  # shape (all beats,)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    evidence: float
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedStep:
    """A step between beat ``before`` and beat ``after`` (numbers of all beats)."""

    before: int
    after: int
    size: float  # of Pd/Pa
    evidence: float


def fitted_steps(scene: Scene, sound: Flags) -> list[FittedStep]:
    """Return the steps that the rows of mean and diastolic Pd/Pa show, in order of time.

    Parameters
    ----------
    scene : Scene
        Of the whole recording.
    sound : array of bool, shape (beats,)
        The beats nothing is held against.
    """
    b = scene.beats
    told = _told(b)
    rows = _rows(scene, sound)
    found: list[FittedStep] = []
    for which in (MEAN, DIASTOLE):
        for last, first in _places(b, rows[which]):
            step = _step(scene, told, rows, which, last, first)
            if step is not None:
                found.append(step)
    kept: list[FittedStep] = []
    for step in sorted(found, key=lambda s: -s.evidence):
        at = float(b.start_s[step.after])
        if all(abs(at - float(b.start_s[other.after])) > APART_S for other in kept):
            kept.append(step)
    return sorted(kept, key=lambda s: s.after)


def _rows(scene: Scene, sound: Flags) -> tuple[_Row, _Row]:
    """Return the rows of whole beats and of diastole."""
    b = scene.beats
    known = ~b.on_pd & (b.pa_mean_mmhg > 0.0) & (b.pd_mean_mmhg > 0.0)
    mean = b.pd_mean_mmhg / np.where(b.pa_mean_mmhg > 0.0, b.pa_mean_mmhg, np.nan)
    likely = pulse_over_usual(scene.pa_pulse_mmhg)
    whole = (likely > LIKE_USUAL[0]) & (likely < LIKE_USUAL[1]) & np.isfinite(b.diastolic)
    whole[1:-1] &= whole[2:] & whole[:-2]  # beside a flush a beat may be half of it
    diastolic = known & np.isfinite(b.diastolic) & (sound | whole)
    return (
        _Row(idx=np.flatnonzero(known & sound), ratio=mean),
        _Row(idx=np.flatnonzero(diastolic), ratio=b.diastolic),
    )


def _told(b: Beats) -> Table:
    """Return ln Pa, ln length, Pa's change around each beat and ln of the length before it."""
    level = np.log(np.where(b.pa_mean_mmhg > 0.0, b.pa_mean_mmhg, np.nan))
    breath = np.zeros(level.size)
    breath[1:-1] = level[2:] - level[:-2]
    breath = np.clip(np.nan_to_num(breath), -MOST_BREATH, MOST_BREATH)
    length = np.log(b.length_s)
    before = np.concatenate((length[:1], length[:-1]))
    return np.column_stack((np.nan_to_num(level), length, breath, before))


def _places(b: Beats, row: _Row) -> Iterator[tuple[int, int]]:
    """Yield the last beat before and the first after each place worth a fit, the plainest first."""
    idx = row.idx
    if idx.size < 2 * SIDE + LEFT_OUT:
        return
    y, start, end, length = row.ratio[idx], b.start_s[idx], b.end_s[idx], b.length_s[idx]
    long = np.concatenate(([0.0], np.cumsum(length)))
    found: list[tuple[float, int, int]] = []
    windows = np.lib.stride_tricks.sliding_window_view
    sides, times = windows(y, SIDE), windows(start, SIDE)
    middles = np.median(windows(y, FEWEST), axis=1)
    for out in range(LEFT_OUT + 1):
        last = np.arange(SIDE - 1, idx.size - SIDE - out)
        first = last + 1 + out
        old, new = sides[last - SIDE + 1], sides[first]
        change = middles[first] - middles[last - FEWEST + 1]
        above = (new[:, None, :] > old[:, :, None]).mean(axis=(1, 2))
        ordered = np.where(change > 0.0, above, 1.0 - above)
        lost = start[first] - end[last] - (long[first] - long[last + 1])
        look = (np.abs(change) >= A_LOOK) & (ordered >= LIKELY)
        look &= lost <= np.where(change > 0.0, GAP_S, FALL_GAP_S)
        look &= start[last] - start[last - NEAR] <= NEAR_S
        look &= start[first + NEAR] - start[first] <= NEAR_S
        if look.any():
            t = np.concatenate((times[last - SIDE + 1], times[first]), axis=1)[look]
            t = t - t[:, SIDE - 1 : SIDE + 1].mean(axis=1, keepdims=True)
            plain = _plainness(t, np.concatenate((old, new), axis=1)[look])
            found += zip(plain.tolist(), last[look].tolist(), first[look].tolist(), strict=True)
    taken: list[float] = []
    for score, last_k, first_k in sorted(found, reverse=True):
        at = float(start[first_k])
        if score < PLAIN:
            return
        if sum(abs(at - other) < NEARBY_S for other in taken) < MOST_NEARBY:
            taken.append(at)
            yield int(idx[last_k]), int(idx[first_k])


def _plainness(time_s: Table, ratio: Table) -> Samples:
    """Return how many deviations of what is left a step in the middle of each row is large."""
    step = np.broadcast_to(np.where(np.arange(2 * SIDE) < SIDE, -0.5, 0.5), time_s.shape)
    columns = np.stack((np.ones_like(time_s), time_s, step), axis=2)
    normal = np.einsum("kni,knj->kij", columns, columns) + np.diag((0.0, HELD**2, 0.0))
    part = np.linalg.solve(normal, np.einsum("kni,kn->ki", columns, ratio)[:, :, None])[:, :, 0]
    left = ratio - np.einsum("kni,ki->kn", columns, part)
    noise = (left**2).sum(axis=1) / (2 * SIDE - 3) + LEAST_SD**2
    return np.asarray(np.abs(part[:, 2]) / np.sqrt(noise))


def _step(
    scene: Scene, told: Table, rows: tuple[_Row, _Row], which: int, last: int, first: int
) -> FittedStep | None:
    """Return the step between two beats that row ``which`` shows, None if it shows none."""
    b = scene.beats
    if not _all_else_stays(told, rows[which], last, first):
        return None
    breath_hz = _breath_hz(b, 0.5 * float(b.start_s[last] + b.start_s[first]))
    own = _fit(b, told, rows[which], last, first, breath_hz)
    if own is None or own.evidence < (RISE if own.size > 0.0 else FALL):
        return None
    other = _fit(b, told, rows[1 - which], last, first, breath_hz)
    mean = own if which == MEAN else other
    if _line_changes(scene, last, first):
        if which == DIASTOLE:
            return None
    elif other is not None and not LIKE[0] < other.size / own.size < LIKE[1]:
        return None
    size = own.size if mean is None else mean.size
    if abs(size) < (LEAST_DIASTOLIC if mean is None else LEAST):
        return None
    return FittedStep(before=last, after=first, size=size, evidence=own.evidence)


def _all_else_stays(told: Table, row: _Row, last: int, first: int) -> bool:
    """Return whether Pa and the rate stay, and the sensor lies in an artery on either side."""
    old, new = row.idx[row.idx <= last][-BESIDE:], row.idx[row.idx >= first][:BESIDE]
    moved = np.abs(np.median(told[new], axis=0) - np.median(told[old], axis=0))
    levels = [float(np.median(row.ratio[x])) for x in (old, new)]
    return bool(
        moved[0] <= PA_STAYS
        and moved[1] <= RATE_STAYS
        and min(levels) > IN_ARTERY[0]
        and max(levels) < IN_ARTERY[1]
    )


def _line_changes(scene: Scene, last: int, first: int) -> bool:
    """Return whether the steepness of Pa's wave changes here: the fluid line, not the wire."""
    steep = np.log(np.maximum(scene.pa_sharp_hz, 1e-3))
    sides = steep[max(last - BESIDE + 1, 0) : last + 1], steep[first : first + BESIDE]
    old, new = (x[np.isfinite(x)] for x in sides)
    if not old.size or not new.size:
        return True  # unknown
    return abs(float(np.median(new) - np.median(old))) > LINE


def _breath_hz(b: Beats, at_s: float) -> float:
    """Return the frequency at which Pa's means swing most around a time."""
    near = (np.abs(b.start_s - at_s) < BREATH_LOOK_S) & (b.pa_mean_mmhg > 0.0)
    t, pa = b.start_s[near], b.pa_mean_mmhg[near]
    swing = np.clip(pa - np.median(pa), -BREATH_MOST_MMHG, BREATH_MOST_MMHG)
    turn = np.exp(-2j * np.pi * BREATHS_HZ[:, None] * t[None, :])
    return float(BREATHS_HZ[int(np.argmax(np.abs(turn @ (swing - swing.mean()))))])


def _fit(
    b: Beats, told: Table, row: _Row, last: int, first: int, breath_hz: float
) -> _Fit | None:  # fmt: skip
    """Return the evidence for a step of a row between two beats, None where too few are known."""
    idx, start = row.idx, b.start_s
    old = idx[(idx <= last) & (start[idx] > start[last] - LONGEST_S)][-MOST:]
    new = idx[(idx >= first) & (start[idx] < start[first] + LONGEST_S)][:MOST]
    if min(old.size, new.size) < FEWEST or start[new[0]] - b.end_s[old[-1]] > OTHER_GAP_S:
        return None
    used = np.concatenate((old, new))
    t = start[used] - 0.5 * float(start[old[-1]] + start[new[0]])
    y = row.ratio[used] - np.median(row.ratio[used])
    explained = (told[used] - np.median(told[used], axis=0)) * TOLD_SD
    turn = 2.0 * np.pi * breath_hz * t
    columns = np.column_stack((
        np.full(t.size, LEVEL_SD), SLOPE_SD * t, explained,
        BREATH_SD * np.cos(turn), BREATH_SD * np.sin(turn),
    ))  # fmt: skip
    return _evidence(t - t[0], y, columns, np.where(np.arange(t.size) < old.size, -0.5, 0.5))


def _evidence(t: Samples, y: Samples, columns: Table, step: Samples) -> _Fit:
    """Return twice the logarithm of the ratio of the greatest likelihoods, and the step's size.

    The covariance is s^2 (1 + a W + c V) + H H', W that of a random walk, V that of an integrated
    one, H the ``columns``. For each pair (a, c) the row is made white but for H, of which only the
    few eigenvalues are then needed at each s.
    """
    n, noise = t.size, SD**2
    near, far = np.minimum.outer(t, t), np.maximum.outer(t, t)
    smooth = near**2 * (far / 2.0 - near / 6.0) * 3.0 / LONGEST_S**3
    a, c = np.repeat(WALK, SMOOTH.size), np.tile(SMOOTH, WALK.size)
    shape = np.eye(n) + a[:, None, None] * near + c[:, None, None] * smooth
    root = np.linalg.cholesky(shape)
    volume = 2.0 * np.log(np.einsum("kii->ki", root)).sum(axis=1)
    both = np.column_stack((y, step, columns))
    white = np.linalg.solve(root, np.broadcast_to(both, (a.size, *both.shape)))
    row, jump, held = white[:, :, 0], white[:, :, 1], white[:, :, 2:]
    value, vector = np.linalg.eigh(np.einsum("kni,knj->kij", held, held))
    value = np.maximum(value, 0.0)[:, :, None]
    along = [np.einsum("kji,knj,kn->ki", vector, held, x)[:, :, None] for x in (row, jump)]

    def product(i: int, j: int, plain: Samples) -> Table:
        part = (along[i] * along[j] / (value + noise)).sum(axis=1)
        return np.asarray((plain[:, None] - part) / noise)

    yy = product(0, 0, (row * row).sum(axis=1))
    ys = product(0, 1, (row * jump).sum(axis=1))
    ss = product(1, 1, (jump * jump).sum(axis=1))
    size_of_all = volume[:, None] + n * np.log(noise) + np.log1p(value / noise).sum(axis=1)
    without, with_step = size_of_all + yy, size_of_all + yy - ys**2 / ss
    at = np.unravel_index(int(np.argmin(with_step)), with_step.shape)
    return _Fit(evidence=float(without.min() - with_step[at]), size=float(ys[at] / ss[at]))
