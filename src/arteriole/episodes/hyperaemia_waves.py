"""Whether the effect of the drug comes in waves: all four rows asked at once.

A wave of the drug moves Pd/Pa, the wave of Pd, Pa and the rate together, each in proportion to how
far it moved as the drug arrived; beats and breaths move each by itself, and an ordinary vessel
wanders too, but less. So explanations of the plateau are weighed against each other by their
likelihood: a shared slow wander of ``ORDINARY`` of the effect, one of ``WAVES``, and the ordinary
one with a regular wave upon it. How much each row varies by itself is taken from the recording.
Decisions 0039, 0092.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from arteriole.episodes.hyperaemia_course import (
    PRESSURE,
    RATIO,
    WAVE,
    Course,
    rows_of,
    without_outliers,
)
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples
from arteriole.signal import Flags

MEAN_S = 5.0  # one value of each row is the mean over this long: a breath or more
FEWEST_IN_MEAN, FEWEST_MEANS = 3, 6
ORDINARY, WAVES = 0.03, 0.10  # standard deviation of the effect; decision 0039
MEMORY_S = 12.0  # of either wander: once differentiable, so that fast waves count too; 0039
#: Least noise of a mean: Pd/Pa, mmHg, mmHg, bpm; smaller ones are chance. Decision 0039.
LEAST_NOISE = np.array([0.0007, 0.05, 0.3, 0.3])
OUT_OF_STEP = 0.2  # of its fall: the wave of Pd need not follow in proportion; decision 0039
#: A gauge that drifts moves Pd/Pa alone, steadily: 1 mmHg in a minute. Decision 0039.
DRIFT_S = 0.01 / 60.0
#: Pd that reads this much too high or low, or flow that stops at such a pressure, lets Pd/Pa move
#: with Pa, mmHg: standard deviation; decision 0092.
OFFSET_MMHG = 5.0
LEAST_PA_MMHG = 20.0  # under which no mean Pa of a beat lies that counts; 0 where Pa is not known
UNKNOWN = 1e3  # times noise and fall: the level of a row is free
#: Regular waves: periods (s), amplitude's standard deviation, periods until out of step; 0092.
PERIODS_S = (14.0, 16.5, 19.5, 23.0, 27.0, 32.0)
REGULAR, IN_STEP = 0.11, 2.0
#: Noise over what the bends of a row show, each as likely: a fast wave bends it too. 0092.
NOISE_FACTORS = (0.55, 0.75, 1.0, 1.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waves:
    """How much likelier than an ordinary vessel's wander: log-likelihood ratios.

    ``any``: a larger wander, whatever its shape. ``regular``: waves of one period, of which
    ``period_s`` is the mean by likelihood.
    """

    any: float
    regular: float
    period_s: float


def waves_in(trend: Trend, course: Course, on: Flags) -> Waves | None:
    """Return how much likelier waves are than ordinary wander, or None.

    Parameters
    ----------
    trend : Trend
        Clean beats, n of them.
    course : Course
        The arrival.
    on : Flags
        Shape (n,): the beats of the plateau that no injection pushes on.

    None where the plateau is too short to say.
    """
    rows = np.array([without_outliers(row) for row in rows_of(trend)])
    time_s, means = means_of(trend.time_s, rows, on)
    if time_s.size < FEWEST_MEANS:
        return None
    bends = noise_of(means)
    apart = np.abs(time_s[:, None] - time_s)
    near = np.sqrt(3.0) / MEMORY_S * apart
    alike = (1.0 + near) * np.exp(-near)
    n = time_s.size
    # Pressure and rate wander under the drug as at rest; vessels that are open stand still.
    alone = np.where(np.isin(np.arange(4), (RATIO, WAVE)), 0.0, course.slow)
    alone[WAVE] = OUT_OF_STEP * course.fall[WAVE]
    own = np.zeros((4 * n, 4 * n))
    for k in range(4):
        at = slice(k * n, (k + 1) * n)
        free = UNKNOWN * (max(bends[k], LEAST_NOISE[k]) + course.fall[k])
        own[at, at] = free**2 + alone[k] ** 2 * alike
    passed = time_s - time_s.mean()
    own[:n, :n] += DRIFT_S**2 * np.outer(passed, passed)
    part = OFFSET_MMHG / np.maximum(means[PRESSURE], LEAST_PA_MMHG)
    own[:n, :n] += np.outer(part - part.mean(), part - part.mean())
    falls = np.repeat(course.fall, n)
    together = np.outer(falls, falls)
    wander = together * np.tile(alike, (4, 4))
    shares = [ORDINARY**2 * wander, WAVES**2 * wander]
    for period in PERIODS_S:
        wave = np.cos(2.0 * np.pi * apart / period) * np.exp(-0.5 * (apart / IN_STEP / period) ** 2)
        shares.append(shares[0] + REGULAR**2 * together * np.tile(wave, (4, 4)))
    row, likely = means.ravel(), np.empty((len(shares), len(NOISE_FACTORS)))
    for j, factor in enumerate(NOISE_FACTORS):
        noise = np.diag(np.repeat(np.maximum(factor * bends, LEAST_NOISE) ** 2, n))
        likely[:, j] = [_likelihood(row, own + noise + share) for share in shares]
    ordinary, wide, *regular = (float(logsumexp(of)) for of in likely)
    total = float(logsumexp(regular))
    period = float(np.exp(np.array(regular) - total) @ np.array(PERIODS_S))
    return Waves(
        any=wide - ordinary, regular=total - float(np.log(len(regular))) - ordinary,
        period_s=period,
    )  # fmt: skip


def means_of(time_s: Samples, rows: Samples, on: Flags) -> tuple[Samples, Samples]:
    """Return times (m,) and means (k, m) over stretches of ``MEAN_S`` that hold enough beats."""
    if not on.any():
        return np.zeros(0), np.zeros((rows.shape[0], 0))
    place = np.floor((time_s[on] - time_s[on][0]) / MEAN_S).astype(int)
    beats = np.bincount(place)
    held = beats >= FEWEST_IN_MEAN
    sums = np.array([np.bincount(place, weights=row[on]) for row in (time_s, *rows)])
    means = sums[:, held] / beats[held]
    return means[0], means[1:]


def noise_of(means: Samples) -> Samples:
    """Return the standard deviation of each row's means by themselves, slow change left out.

    ``means`` shape (k, m), at least three; robust, from how each bends between its neighbours.
    """
    bent = means[:, 2:] - 2.0 * means[:, 1:-1] + means[:, :-2]
    return np.asarray(1.4826 * np.median(np.abs(bent), axis=1) / np.sqrt(6.0))


def _likelihood(row: Samples, spread: Samples) -> float:
    """Return the log-likelihood of a row, a constant left out; ``spread`` is its covariance."""
    root = np.linalg.cholesky(spread)
    z = np.linalg.solve(root, row)
    return float(-0.5 * z @ z - np.log(np.diag(root)).sum())
