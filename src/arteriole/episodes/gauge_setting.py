r"""The equalisation: where the gauges were set equal with both sensors at the guide tip.

At the tip both sensors see one wave, so Pd minus Pa hardly moves from beat to beat. Setting the
gauges equal shifts it at once by one number and leaves the wave's shape alone::

    Pd - Pa   ______________            <- the gauges as they were
                            |____________           <- set equal
                                         \___ /\__  <- the wire leaves the guide: the shape
                                              \/        changes with the gap
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal import Beats
from arteriole.signal.graded import Quality

#: Compared before and after a step; the beat between may hold the setting itself. Three where a
#: slow heart leaves no more after a flush.
SIDE_BEATS, FEW_SIDE_BEATS = 4, 3
STEP_MMHG, STEP_SPREADS = 0.25, 5.0  # least step, and against the spread of either side; 0042
LEVEL_SHARE = 0.25  # of the step: the most that either side moves by itself
SHAPE_SHARE = 0.12  # of the step: a step in the vessel changes diastole more; decision 0042
SHAPE_MMHG = 0.3  # the shape may always change by this much
#: Behind a lesion the gap breathes, at the guide it does not: spread after over that before a
#: setting, and what it may always be, mmHg; decision 0042.
LIKE_SPREADS, LIKE_MMHG = 3.0, 0.2
#: Nobody sets gauges that agree apart: from this near to this far only a step that leaves spread
#: (times, or below mmHg) and shape (share of it) as they were is a setting; decision 0042.
AGREED_MMHG, APART_MMHG, SAME_SPREADS, SAME_MMHG, SAME_SHAPE = 1.0, 2.0, 1.5, 0.15, 0.05
NEAR_MMHG = 14.0  # farther apart the sensors are not at one place; our choice, decision 0042
SAME_WAVE_MMHG = 2.5  # at one place both see one wave, a ringing line included
LEAVES_MMHG, LEAVES_SPREADS = 0.3, 5.0  # the gap leaves its level when the wire moves
LEAVES_BEATS = 3
SETTLE_S = 0.8  # read from shortly after the step on
LONGEST_S = 5.5  # later the level says no more; our choice, decision 0042
FEWEST = 8  # beats that make a first level
AROUND_BEFORE_S, AROUND_AFTER_S = 1.0, 3.0  # of a flush: what a step means nothing in


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gap:
    """Beats with both means, shape (n,): Pd minus Pa, and how much more of it is in diastole."""

    start_s: Samples
    end_s: Samples
    gap_mmhg: Samples
    shape_mmhg: Samples


def find_equalisation(
    beats: Beats,
    quality: Quality,
    from_s: float,
    before_s: float,
    disturbed_s: Sequence[tuple[float, float]],
) -> tuple[float, float] | None:
    """Return the stretch between the setting and the wire's leaving the guide, or None.

    Where the gauges agreed already no step is seen; then it is the last stretch before the gap
    leaves its first level. Look-ahead: six seconds after the setting.

    Parameters
    ----------
    beats, quality : Beats, Quality
        All beats; means of damped or irregular ones count too.
    from_s, before_s : float
        The wire is in blood; before the first act that needs it in place, s.
    disturbed_s : sequence of (float, float)
        Flushes, where a step means nothing, s.
    """
    seen = _gap_of(beats, quality, from_s, before_s, disturbed_s)
    if seen.gap_mmhg.size < FEWEST:
        return None
    gone, at = _leaves(seen, 0), _first_step(seen, SIDE_BEATS)
    if at is None or (gone is not None and at > gone + 1):
        # A step after the gap has left its first level is the wire's, on its way past a lesion.
        at = _first_step(seen, FEW_SIDE_BEATS)
        at = at if at is not None and at <= SIDE_BEATS else None
    if at is None:
        if gone is None or gone < FEWEST or not _together(seen, gone):
            return None
        end = float(seen.end_s[gone - 1])
        return max(float(seen.start_s[0]), end - LONGEST_S), end
    gone = _leaves(seen, at)
    last = seen.gap_mmhg.size if gone is None else gone
    start = float(seen.start_s[at])
    return start, min(float(seen.end_s[last - 1]), start + LONGEST_S)


def _gap_of(
    beats: Beats, quality: Quality, from_s: float, before_s: float,
    disturbed_s: Sequence[tuple[float, float]],
) -> _Gap:  # fmt: skip
    keep = beats.between(from_s, before_s) & quality.pa_ok & quality.pd_ok & ~beats.on_pd
    for a, b in disturbed_s:
        keep &= (beats.end_s < a - AROUND_BEFORE_S) | (beats.start_s > b + AROUND_AFTER_S)
    gap = beats.pd_mean_mmhg - beats.pa_mean_mmhg
    keep &= np.isfinite(gap)
    return _Gap(
        start_s=beats.start_s[keep], end_s=beats.end_s[keep], gap_mmhg=gap[keep],
        shape_mmhg=np.nan_to_num((beats.pd_dia_mean_mmhg - beats.pa_dia_mean_mmhg - gap)[keep]),
    )  # fmt: skip


def _first_step(seen: _Gap, side: int) -> int | None:
    """Return the first beat after the first step that is a setting, or None."""
    width = 2 * side + 1
    n = seen.gap_mmhg.size - width + 1
    if n < 1:
        return None
    rows = np.lib.stride_tricks.sliding_window_view(seen.gap_mmhg, width)
    left, right = rows[:, :side], rows[:, side + 1 :]
    half = side // 2
    moves = np.maximum(*(
        np.abs(x[:, half:].mean(axis=1) - x[:, :half].mean(axis=1)) for x in (left, right)
    ))  # fmt: skip
    spread = np.maximum(*(np.ptp(x, axis=1) / 2.0 for x in (left, right)))
    # the last beat before may be under way already
    before, after = np.ptp(left[:, :-1], axis=1) / 2.0, np.ptp(right, axis=1) / 2.0
    old, new = np.median(left, axis=1), np.median(right, axis=1)
    shapes = np.lib.stride_tricks.sliding_window_view(seen.shape_mmhg, width)
    bent = np.abs(np.median(shapes[:, side + 1 :], axis=1) - np.median(shapes[:, :side], axis=1))
    size = np.abs(new - old)
    near = np.diff(seen.start_s, append=np.inf)
    whole = seen.start_s[width - 1 :] - seen.start_s[:n] < 3.0 * width * np.median(near[:-1])
    hits = (
        whole
        & (size >= np.maximum(STEP_MMHG, STEP_SPREADS * spread))
        & (moves <= LEVEL_SHARE * size)
        & (after <= np.maximum(LIKE_MMHG, LIKE_SPREADS * before))
        & (bent <= np.maximum(SHAPE_MMHG, SHAPE_SHARE * size))
        & (np.abs(new) <= NEAR_MMHG)
        & (np.abs(np.median(shapes, axis=1)) <= SAME_WAVE_MMHG)
    )
    parted = (np.abs(old) <= AGREED_MMHG) & (np.abs(new) > APART_MMHG)
    hits &= ~parted | (
        (after <= np.maximum(SAME_MMHG, SAME_SPREADS * before)) & (bent <= SAME_SHAPE * size)
    )
    at = np.flatnonzero(hits)
    if not at.size:
        return None
    run = at[: int(np.argmax(np.diff(at, append=at[-1] + 9) > 1)) + 1]
    best = int(run[np.argmax(size[run] - 2.0 * moves[run] - spread[run])])
    # the beat between belongs to the new level when the setting fell on the foot before it
    middle = best + side
    level = float(np.median(right[best]))
    return middle if abs(seen.gap_mmhg[middle] - level) < 0.1 * size[best] else middle + 1


def _together(seen: _Gap, until: int) -> bool:
    """Return whether both sensors saw one wave up to a beat."""
    gap = float(np.median(seen.gap_mmhg[:until]))
    shape = float(np.median(seen.shape_mmhg[:until]))
    return abs(gap) <= NEAR_MMHG / 2.0 and abs(shape) <= SAME_WAVE_MMHG


def _leaves(seen: _Gap, first: int) -> int | None:
    """Return the first beat after ``first`` at which the gap or its shape is gone for good."""
    gap, shape = seen.gap_mmhg[first:], seen.shape_mmhg[first:]
    away = np.zeros(gap.size, dtype=bool)
    for row in (gap, shape):
        start = row[: FEWEST // 2]
        level = float(np.median(start))
        spread = float(np.ptp(start)) / 2.0
        away |= np.abs(row - level) > max(LEAVES_MMHG, LEAVES_SPREADS * spread)
    if gap.size < LEAVES_BEATS:
        return None
    for_good = np.lib.stride_tricks.sliding_window_view(away, LEAVES_BEATS).all(axis=1)
    at = np.flatnonzero(for_good)
    return first + int(at[0]) if at.size else None
