r"""The push of the syringe as Pd shows it: a step up when it begins, a step down when it ends.

What the syringe adds at the ostium raises the pressure behind it while it is on, also where the tap
cuts Pa off. It is a few mmHg, small against the beat, so the usual beat is taken off first::

    Pd            /\_ /\_ /\_ /\_
    less beat    _____|~~~~|_____     on a level that wanders, most of all at the upstrokes

Every start and length of a push is weighed by how much likelier it makes what is left than a
wandering level alone (``level.py``). Decision 0055.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solveh_banded
from scipy.special import log_ndtr

from arteriole.recording.channel import Samples
from arteriole.thermo.bins import bin_means
from arteriole.thermo.level import LEAST_BEATS, SHORTEST_BEAT_S, STEP_S, Level, less_beat

BEFORE_S, AFTER_S = 8.0, 0.6  # the usual beat is that of 8 s before the view; decision 0055
LEAST_VIEW_S = 2.0  # less holds no push with a level on either side; decision 0055
MOST_MISSING = 0.2  # of Pd; decision 0055
#: A push cannot raise the pressure faster than this per step, mmHg: a faster one is a beat; 0055.
STEEPEST_MMHG = 2.5
#: Rise while the syringe is on (SD), mmHg: 3 mL in 0.6 s through an ostium; its edges, share of
#: the usual duration; duration and its log SD, shortest and longest, s. Decision 0055.
RISE_MMHG, EDGE_SHARE = 8.0, 0.2
USUAL_S, LOG_USUAL_SD, SHORTEST_S, LONGEST_S = 0.6, 0.4, 0.24, 2.6
HALF_EDGE = round(0.5 * EDGE_SHARE * USUAL_S / STEP_S)  # steps
#: Lengths weighed, between the middles of the edges, in steps: finer where pushes are brief.
SPANS = np.unique(
    np.round(np.geomspace(SHORTEST_S, LONGEST_S, 64) / STEP_S).astype(int) - 2 * HALF_EDGE
)
#: Half-heights of pressure against those of flow: laminar or not, elastic or not, s; 0055.
FLOW_SD_S = 0.010
FAR_SDS = 5.0  # a start farther from the expected one is not weighed
UNSEEN_ODDS = 0.05  # that a push leaves no trace on Pd; decision 0055


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """What is believed of a push: middle and duration, s, with their SDs.

    ``rise_mmhg``: while it is on; ``seen``: how surely Pd shows it, 0..1.
    """

    middle_s: float
    middle_sd_s: float
    duration_s: float
    log_duration_sd: float
    rise_mmhg: float
    seen: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known of a push beforehand: its middle and length with their SDs, latest start, s."""

    middle_s: float
    middle_sd_s: float
    begun_by_s: float
    length_s: float = USUAL_S
    log_length_sd: float = LOG_USUAL_SD


def read_push(
    pd_mmhg: Samples, rate_hz: float, *, start_s: float, from_s: float, to_s: float,
    expected: Expected,
) -> Push | None:  # fmt: skip
    """Return what Pd says of a push that lies within a view; None where Pd cannot say.

    Parameters
    ----------
    pd_mmhg : Samples
        Shape (n,), mmHg, NaN = lost.
    rate_hz : float
        Samples per second.
    start_s : float
        Time of the first sample, s.
    from_s, to_s : float
        The view, s; ``BEFORE_S`` before it give the usual beat.
    expected : Expected
        What the curve and Pa say of it.
    """
    reach = max(from_s - BEFORE_S, start_s)
    last = min(to_s + AFTER_S, start_s + pd_mmhg.size / rate_hz)
    bins = int((last - reach) / STEP_S)
    first = int((from_s - reach) / STEP_S)
    if first < LEAST_BEATS * SHORTEST_BEAT_S / STEP_S or bins - first < LEAST_VIEW_S / STEP_S:
        return None
    pd = bin_means(pd_mmhg, rate_hz, start_s=start_s, from_s=reach, step_s=STEP_S, bins=bins)
    there = np.isfinite(pd)
    if there.mean() < 1.0 - MOST_MISSING or not there[first:].all():
        return None
    level = less_beat(np.interp(np.arange(bins), np.flatnonzero(there), pd[there]), first)
    return None if level is None else _weighed(level, reach + first * STEP_S, expected)


def _weighed(level: Level, from_s: float, expected: Expected) -> Push | None:
    """Return the belief in every start and length, from what each leaves unexplained."""
    edges = np.arange(HALF_EDGE, level.mmhg.size - HALF_EDGE)
    centre = from_s + (edges + 0.5) * STEP_S
    start = expected.middle_s - 0.5 * expected.length_s
    reach = FAR_SDS * np.hypot(
        expected.middle_sd_s, 0.5 * expected.length_s * expected.log_length_sd
    )
    likely = np.abs(centre - start) < reach
    rising = np.flatnonzero(likely & (centre - HALF_EDGE * STEP_S < expected.begun_by_s))
    spans = SPANS[2 * HALF_EDGE < SPANS][None, :]
    if not rising.size:
        return None
    gain_of, own, shared = _edges(level, int(rising[0]), rising.size)
    up = rising[:, None]
    down = np.minimum(up + spans, edges.size - 1)
    score = gain_of[up] - gain_of[down]
    tight = np.maximum(own[up] + own[down] - 2.0 * shared[up - rising[0], down], 0.0)
    tight += 1.0 / RISE_MMHG**2
    gain = 0.5 * score**2 / tight - 0.5 * np.log(RISE_MMHG**2 * tight)
    gain += np.log(2.0) + log_ndtr(score / np.sqrt(tight))  # it can only rise
    middle = 0.5 * (centre[up] + centre[down])
    length = (spans + 2 * HALF_EDGE) * STEP_S
    log_length = np.log(length)
    prior = (up + spans < edges.size) * np.exp(
        -0.5 * ((middle - expected.middle_s) / expected.middle_sd_s) ** 2
        - 0.5 * ((log_length - np.log(expected.length_s)) / expected.log_length_sd) ** 2
    ) * (np.gradient(spans[0]) / length)  # fmt: skip
    if prior.sum() <= 0.0:
        return None
    prior /= prior.sum()
    top = max(float(gain.max()), 0.0)
    seen = (1.0 - UNSEEN_ODDS) * prior * np.exp(gain - top)
    belief = seen + UNSEEN_ODDS * float(np.exp(-top)) * prior
    whole = float(belief.sum())
    belief /= whole
    mean, log_mean = float((belief * middle).sum()), float((belief * log_length).sum())
    return Push(
        middle_s=mean,
        middle_sd_s=float(np.hypot(np.sqrt((belief * (middle - mean) ** 2).sum()), FLOW_SD_S)),
        duration_s=float(np.exp(log_mean)),
        log_duration_sd=float(np.sqrt((belief * (log_length - log_mean) ** 2).sum())),
        rise_mmhg=float((belief * score / tight).sum()), seen=float(seen.sum()) / whole,
    )  # fmt: skip


def _edges(level: Level, first: int, rising: int) -> tuple[Samples, Samples, Samples]:
    """Return how the level answers to a rising edge at each bin, and how edges answer each other.

    Shapes (m,), (m,) and (rising, m), the last from edge ``first`` on. The steps of a wandering
    level with noise have a covariance of three diagonals, so that every edge is solved for once and
    every pair of edges costs a sum; beats that are larger or smaller than the usual one add one
    column each.
    """
    moved = np.diff(level.mmhg)
    wander = np.maximum(level.wander[1:], np.maximum(np.abs(moved) - STEEPEST_MMHG, 0.0) ** 2)
    band = np.zeros((2, moved.size))
    band[0, 1:] = -(level.noise_mmhg**2)
    band[1] = wander + 2.0 * level.noise_mmhg**2
    x = np.arange(2 * HALF_EDGE + 1) / (2.0 * HALF_EDGE)
    kernel = np.diff(x * x * (3.0 - 2.0 * x))  # one edge, step by step
    number = np.arange(moved.size - 2 * HALF_EDGE + 1)
    k = level.beats.shape[1]
    sides = np.zeros((moved.size, 1 + k + number.size))
    sides[:, 0] = moved
    sides[:, 1 : 1 + k] = np.diff(level.beats, axis=0)
    sides[:, 1 : 1 + k][np.diff(level.beats != 0.0, axis=0)] = 0.0  # where one beat meets the next
    for j, part in enumerate(kernel):
        sides[number + j, 1 + k + number] = part
    beats = sides[:, 1 : 1 + k]
    solved = solveh_banded(band, sides, check_finite=False)
    of_beats = solved[:, 1 : 1 + k]
    solved -= of_beats @ np.linalg.solve(np.eye(k) + beats.T @ of_beats, beats.T @ solved)
    shared = np.zeros((rising, number.size))
    own = np.zeros(number.size)
    for j, part in enumerate(kernel):
        shared += part * solved[first + j : first + j + rising, 1 + k :]
        own += part * solved[number + j, 1 + k + number]
    return np.convolve(solved[:, 0], kernel[::-1], "valid"), own, shared
