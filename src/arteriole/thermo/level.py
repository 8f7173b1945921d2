"""Pd less its usual beat: a level that wanders, and how much, phase by phase.

The usual beat is the mean of those before, aligned at their upstrokes. How far single beats leave
it, step by step, says how far the level can be trusted to stay: a restless pressure gives a wide
answer later on, not a wrong one. Decision 0055.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples
from arteriole.thermo.bins import local_noise

STEP_S = 0.02
LEAST_BEATS = 3
UPSTROKE_SHARE = 0.3  # of the steepest upstrokes; decision 0055
SHORTEST_BEAT_S, LONGEST_BEAT_S = 0.3, 2.0  # 30 to 200 per minute
SOONEST = 0.5  # of the usual beat: no beat follows sooner; decision 0055
FOOT_S = 0.10  # a beat is taken to begin this long before its steepest point
PAUSE = 1.5  # of the longest beat before; decision 0055
BEAT_REACH = 1.4  # of the usual beat; a longer one keeps its last slope
#: Wandering of the level per step, beyond what the beats before show: least, mmHg; neighbourhood
#: in which the largest counts, s; share of the usual beat's own step, for an upstroke that lies
#: beside its place; weight of the oddest beat; factor where no usual beat reaches. And how much
#: larger or smaller a beat may be than the usual one, beyond what the beats before show, share.
#: Our choice, decision 0055.
FLOOR_MMHG, NEAR_S, JITTER, ODD_BEAT, UNSEEN_MORE = 0.15, 0.06, 0.07, 0.35, 3.0
AMPLITUDE_SD = 0.03


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """Pd less its usual beat, shape (n,) mmHg; variance of each step of its wandering; noise.

    ``beats`` (n, k): what each beat adds if it is one SD larger than the usual one, mmHg.
    """

    mmhg: Samples
    wander: Samples
    noise_mmhg: float
    beats: Samples


def upstrokes(pd: Samples) -> Samples:
    """Return the steepest points of the upstrokes, in steps and their fractions, shape (k,)."""
    rise = np.gradient(np.convolve(np.pad(pd, 1, mode="edge"), np.full(3, 1 / 3), "valid"))
    least = UPSTROKE_SHARE * float(np.percentile(rise, 98.5))
    top = np.flatnonzero((rise[1:-1] >= rise[:-2]) & (rise[1:-1] > rise[2:])) + 1
    top = top[rise[top] > least]
    kept = _apart(top, rise, SHORTEST_BEAT_S / STEP_S)
    if len(kept) > LEAST_BEATS:  # a push can make a dicrotic wave as steep as an upstroke
        kept = _apart(np.array(kept), rise, SOONEST * float(np.median(np.diff(kept))))
    k = np.array(kept, dtype=np.int64)
    bend = rise[k - 1] - 2.0 * rise[k] + rise[k + 1]
    return np.asarray(k + 0.5 * (rise[k - 1] - rise[k + 1]) / np.minimum(bend, -1e-9))


def _apart(top: npt.NDArray[np.int64], rise: Samples, least: float) -> list[int]:
    """Return the steepest of what lies nearer to each other than ``least`` steps."""
    kept: list[int] = []
    for i in top.tolist():
        if not kept or i - kept[-1] >= least:
            kept.append(i)
        elif rise[i] > rise[kept[-1]]:
            kept[-1] = i
    return kept


def less_beat(pd: Samples, first: int) -> Level | None:
    """Return the level from bin ``first`` on; None where the beats before are too few."""
    feet = upstrokes(pd) - FOOT_S / STEP_S
    length = np.diff(feet)
    used = (feet[1:] < first) & (feet[:-1] >= 0.0) & (length < LONGEST_BEAT_S / STEP_S)
    if used.sum() < LEAST_BEATS or feet[0] > first:
        return None
    ahead = np.diff(np.append(feet[feet > first - length[used].max()], pd.size))
    begin, length = feet[:-1][used], length[used]
    if ahead.size and ahead.max() > PAUSE * length.max():
        return None  # Pd has lost its pulse too, or an extrasystole pauses: no usual beat
    phase = np.arange(int(BEAT_REACH * float(np.median(length))))
    beats = np.interp(begin[:, None] + phase, np.arange(pd.size), pd)
    inside = phase < length[:, None]
    count = inside.sum(axis=0)
    size = int((count >= 2).sum())  # what two beats at least reach
    own = np.sum(np.where(inside, beats, 0.0), axis=1) / inside.sum(axis=1)
    inside, count = inside[:, :size], count[:size]
    beats = np.where(inside, beats[:, :size] - own[:, None], 0.0)
    usual = beats.sum(axis=0) / count
    wander, noise = _wandering(np.where(inside, beats - usual, np.nan), usual, pd[:first])
    likeness = (beats @ usual) / np.maximum(np.sum(np.where(inside, usual**2, 0.0), axis=1), 1e-9)
    amplitude_sd = float(np.hypot(AMPLITUDE_SD, np.std(likeness)))
    at = np.arange(first, pd.size)
    since = at - feet[np.searchsorted(feet, at, side="right") - 1]
    beyond = np.maximum(since - (size - 1), 0.0)
    beat = np.interp(since, np.arange(size), usual) + beyond * (usual[-1] - usual[-6]) / 5.0
    unseen = UNSEEN_MORE * float(np.median(wander))
    which = np.searchsorted(feet, at, side="right")
    larger = np.where(np.arange(which[0], which[-1] + 1) == which[:, None], beat[:, None], 0.0)
    return Level(
        mmhg=pd[first:] - beat, noise_mmhg=noise, beats=amplitude_sd * larger,
        wander=np.where(beyond > 0.0, unseen, np.interp(since, np.arange(size), wander)),
    )  # fmt: skip


def _wandering(off: Samples, usual: Samples, before: Samples) -> tuple[Samples, float]:
    """Return the variance of a step of the level by phase, and the noise SD of a bin, mmHg.

    ``off``: beats less the usual one, shape (beats, phases), NaN after their end.
    """
    square = np.diff(off, axis=1) ** 2
    count = np.isfinite(square).sum(axis=0)
    square = np.where(np.isfinite(square), square, 0.0)
    varied = np.maximum(
        square.sum(axis=0) / np.maximum(count - 1.0, 1.0), ODD_BEAT * square.max(axis=0)
    )
    near = 2 * round(NEAR_S / STEP_S) + 1
    step = np.abs(np.gradient(usual))
    widest = [
        np.lib.stride_tricks.sliding_window_view(np.pad(v, near // 2, mode="edge"), near).max(-1)
        for v in (np.append(varied[0], varied), step)
    ]
    whole = widest[0] + (JITTER * widest[1]) ** 2
    noise = min(local_noise(before), float(np.sqrt(0.3 * np.median(whole))))
    return np.maximum(whole - 2.0 * noise**2, FLOOR_MMHG**2), noise
