"""One passage of cold against a flow that beats: how long it would take in a steady flow.

Blood moves by volume. Cold that enters at one moment and passes the sensor at another has met the
volume in between, whatever the beat did meanwhile; so the mean volumes at entry and at the sensor,
each weighted with the heat that flows, differ by the volume of the vessel. Measured in times only,
a transit shorter than a beat is off by the part of the beat that it met. The course of flow over a
beat is taken from Pd and from how much faster flow is in diastole, as published [Seligman2022].
Decision 0057.
"""

from dataclasses import dataclass
from math import exp, log

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal import Beats, Grid

#: Mean velocity in diastole over mean velocity in systole: left arteries 1.85 at rest and 1.76 in
#: hyperaemia, right 1.53 and 1.58 [Seligman2022]; where the artery is not known the left's.
DIASTOLIC_RATIO = {"left": 1.8, "right": 1.55}
#: Foot to notch where no notch was found, over the root of the beat's length [Weissler1968].
EJECTION = 0.36
STEP_S = 0.02  # grid of the course
BEFORE_S = 5.0  # whole beats before the injection that a course of 1 refers to, s
COVERED = 0.9  # of the passage must lie in found beats
#: Share of the shift that is taken off: how far the cold follows the beat is not known; of two
#: simulated models it does so wholly in one and hardly in the other; decision 0057.
FOLLOWED = 0.5
LARGEST = 0.15  # log of the largest shift that is believed; a beat out of turn computes more
MOST = 4.0  # a level of Pd beyond this many times its mean is an artefact


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passage:
    """Cold at the catheter's tip and at the sensor's place, before its lag and without the wall.

    ``entry_s`` (m,) s and ``entry_weight`` (m,): cold entering; ``t_s`` (n,) s and ``left_c``
    (n,) °C: the drop at the sensor's place.
    """

    entry_s: Samples
    entry_weight: Samples
    t_s: Samples
    left_c: Samples


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeatCourse:
    """Flow over the beats around one injection, in two parts whose ratio is chosen later.

    ``t_s`` (k,) s; ``systolic`` and ``diastolic`` (k,): Pd over its mean in the same part of the
    beat, 0 outside that part; ``systole_share``: of the time before the injection.
    """

    t_s: Samples
    systolic: Samples
    diastolic: Samples
    systole_share: float

    def flow(self, diastolic_ratio: float) -> Samples:
        """Return flow over its mean just before the injection, shape (k,)."""
        mean = self.systole_share + (1.0 - self.systole_share) * diastolic_ratio
        return np.asarray((self.systolic + diastolic_ratio * self.diastolic) / mean)


def beat_course(
    grid: Grid, beats: Beats, injection_s: float, passage: Passage
) -> BeatCourse | None:
    """Return the course of flow over the beats, None where beats or Pd do not cover the passage."""
    body = passage.t_s[passage.left_c > 0.02 * passage.left_c.max()]
    if not body.size or not beats.count:
        return None
    from_s = max(injection_s - BEFORE_S, grid.start_s)
    to_s = min(float(body[-1]) + 1.0, grid.end_s)
    t = np.arange(from_s, to_s, STEP_S)
    at = np.clip(np.round((t - grid.start_s) * grid.rate_hz).astype(np.int64), 0, grid.samples - 1)
    pd = grid.pd_mmhg[at]
    ejection = np.where(
        beats.notch_i >= 0, (beats.notch_i - beats.start_i) / beats.rate_hz,
        EJECTION * np.sqrt(np.maximum(beats.length_s, 0.0)),
    )  # fmt: skip
    k = np.searchsorted(beats.start_s, t, side="right") - 1
    inside = (k >= 0) & (t < beats.end_s[k]) & np.isfinite(pd)
    systole = inside & (t < beats.start_s[k] + ejection[k])
    diastole = inside & ~systole
    before = t < injection_s - 0.1
    met = (t >= passage.entry_s[0]) & (t <= body[-1])
    if not (before & systole).any() or not (before & diastole).any() or (
        inside[met].mean() < COVERED
    ):  # fmt: skip
        return None
    parts = []
    for part in (systole, diastole):
        level = float(pd[before & part].mean())
        if level <= 0.0:
            return None
        parts.append(np.where(part, np.clip(pd / level, 0.0, MOST), 0.0))
    share = float(systole[before].sum() / inside[before].sum())
    gap = ~inside
    parts[0][gap], parts[1][gap] = share, 1.0 - share  # unknown: as the mean
    return BeatCourse(t_s=t, systolic=parts[0], diastolic=parts[1], systole_share=share)


def steady_transit_s(
    passage: Passage, course: BeatCourse, *, entered_s: float, left_s: float, diastolic_ratio: float
) -> float | None:
    """Return the transit time that the mean flow before the injection would give, s.

    ``entered_s`` and ``left_s``: mean passage of the cold at tip and sensor, s, to which both
    curves are moved; ``diastolic_ratio``: diastolic over systolic velocity. None where nothing
    sensible is left.
    """
    flow = course.flow(diastolic_ratio)
    steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(course.t_s)
    volume = np.concatenate([[0.0], np.cumsum(steps)])

    def mean_volume(t: Samples, weight: Samples, middle_s: float) -> float:
        t = t + middle_s - float((t * weight).sum() / weight.sum())
        heat = weight * np.interp(t, course.t_s, flow, left=1.0, right=1.0)
        return float((heat * np.interp(t, course.t_s, volume)).sum() / heat.sum())

    left = mean_volume(passage.t_s, passage.left_c, left_s)
    entered = mean_volume(passage.entry_s, passage.entry_weight, entered_s)
    return left - entered if left > entered else None


def beat_factor(
    passage: Passage | None,
    course: BeatCourse | None,
    *,
    entered_s: float,
    left_s: float,
    right_artery: bool,
) -> float:
    """Return by what the time from ``entered_s`` to ``left_s`` is multiplied for a steady flow.

    1 where beats, Pd or too little time do not allow it.
    """  # fmt: skip
    if passage is None or course is None or left_s <= entered_s:
        return 1.0
    ratio = DIASTOLIC_RATIO["right" if right_artery else "left"]
    steady = steady_transit_s(
        passage, course, entered_s=entered_s, left_s=left_s, diastolic_ratio=ratio
    )
    if steady is None:
        return 1.0
    shift = log(steady / (left_s - entered_s))
    return exp(FOLLOWED * min(max(shift, -LARGEST), LARGEST))
