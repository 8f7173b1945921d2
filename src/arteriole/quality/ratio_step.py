"""A step in Pd/Pa while nothing else changes: the wire slipped, or Pd's gauge jumped.

Signature: six beats before and six after lie level, their ratios differ by 0.0065 or more and by
more than their spread, while Pa and the rate stay; where injections leave fewer beats, four of
0.009 or three of 0.011. What breathing hides from this is fitted (``step_fit``), on the ratio of
diastole where the range cuts the peaks off. Near the start and the end of a recording a
step belongs to the wire's way in or out and is a note. Our choice, decisions 0034
and 0028.
Look-ahead: thirteen beats.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.quality.scene import Scene, Seen, usual
from arteriole.quality.step_fit import fitted_steps
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags, Grid, Indices
from arteriole.signal.graded import Span
from arteriole.signal.smooth import robust_sd

CODE = "ratio_step"
SIDE = 6  # beats that a level holds on
SKIP = 1  # beat left out on the step
SPREADS = 6.0  # of the beats on either side
LEVEL = 0.25  # of the step: the most that a side may move by itself
AT_ONCE = 0.75  # of the step lies between the two beats on either side of it
HOLDS = 0.5  # of the step: the most that the level may move over the next beats
SMALL = 0.015  # a small step must stand out more
AROUND, USUAL = 45, 0.8  # windows around, and the quantile of their differences that is usual
NEAR_S = 6.0  # two steps nearer than this are one
ABRUPT = 2.5  # times any other change over two beats on either side
#: A sensor this cold for this share of the seconds around lies in an infusion: moved on purpose.
COLD_C, COLD_SHARE = 0.35, 0.4
COLD_BEFORE_S, COLD_AFTER_S = 10.0, 4.0
PA_STAYS, RATE_STAYS = 0.08, 0.15  # of ln
BREATHES = 1.6  # times that where breathing moves Pa and the rate by as much all around
GAP_S = 11.0  # lost on either side, beyond the beats
STEP_GAP_S = 1.0  # lost at the step itself: a step across a lost stretch proves nothing
LIKE_USUAL = (0.75, 1.3)  # times the usual pulse: no flush
CUT_SHARE = 0.4  # of beats are sound: less, where the range cuts most peaks off
WAY_S = 75.0  # the wire's way in and out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pass:
    """One way to look: beats on either side, least step, how much it must stand out if small."""

    side: int
    least: float
    abrupt_small: float
    stands_out: float


#: Six beats on either side; between two injections there are fewer, and a larger step is needed.
PASSES = (
    _Pass(side=6, least=0.0065, abrupt_small=4.5, stands_out=1.5),
    _Pass(side=4, least=0.009, abrupt_small=3.0, stands_out=4.0),
    _Pass(side=3, least=0.011, abrupt_small=3.0, stands_out=5.0),
)


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the steps; beats stay usable, for either side may be right."""
    b, grid = scene.beats, scene.grid
    ok = sound & ~b.on_pd & (b.pa_mean_mmhg > 0.0) & (b.pd_mean_mmhg > 0.0)
    idx = np.flatnonzero(ok)
    ratio = b.pd_mean_mmhg[idx] / b.pa_mean_mmhg[idx]
    start, end = b.start_s[idx], b.end_s[idx]
    found: list[tuple[int, float]] = []  # beat at the step, and its size
    for one in PASSES:
        if idx.size < 2 * one.side + SKIP:
            continue
        size, steady = _stands_out(scene, idx, ratio, one)
        for k in _tops(np.abs(size), steady, 2 * one.side):
            at = k + one.side
            if _holds(ratio, k, float(size[k]), one.side) and all(
                abs(start[at] - start[m]) > NEAR_S for m, _ in found
            ):
                found.append((at, float(size[k])))
    steps = [(float(start[at]), float(end[at]), size) for at, size in found]
    row, of_row = _row_to_fit(scene, sound)
    steps += [
        (float(b.start_s[of_row[at]]), float(b.end_s[of_row[at]]), size)
        for at, size in fitted_steps(b, of_row, row)
        if all(abs(float(b.start_s[of_row[at]]) - near) > NEAR_S for near, _, _ in steps)
    ]
    spans: list[Span] = []
    findings: list[Finding] = []
    for time, until, change in sorted(steps):
        span = Span(code=CODE, channel="pd", start_s=time, end_s=until)
        spans.append(span)
        on_way = time < grid.start_s + WAY_S or time > grid.end_s - WAY_S or _cold(grid, time)
        findings.append(Finding(
            code=CODE, severity="note" if on_way else "caution", channel="pd",
            start_s=span.start_s, end_s=span.end_s,
            message=f"Pd/Pa steps by {change:+.3f} at {time:.1f} s while Pa and the rate stay.",
            do="Look whether the wire slipped or its plug was touched; compare both sides.",
        ))  # fmt: skip
    return Seen(code=CODE, spans=tuple(spans), findings=tuple(findings))


def _row_to_fit(scene: Scene, sound: Flags) -> tuple[Samples, Indices]:
    """Return Pd/Pa of sound beats, or that of diastole where the range cuts most peaks off."""
    b = scene.beats
    known = sound & ~b.on_pd & (b.pa_mean_mmhg > 0.0) & (b.pd_mean_mmhg > 0.0)
    if not known.size or float(sound.mean()) >= CUT_SHARE:
        return b.pd_mean_mmhg[known] / b.pa_mean_mmhg[known], np.flatnonzero(known)
    likely = scene.pa_pulse_mmhg / np.maximum(usual(scene.pa_pulse_mmhg), 1.0)
    whole = (likely > LIKE_USUAL[0]) & (likely < LIKE_USUAL[1]) & np.isfinite(b.diastolic)
    whole[1:-1] &= whole[2:] & whole[:-2]  # beside a flush a beat may be half of it
    return b.diastolic[whole], np.flatnonzero(whole)


def _stands_out(
    scene: Scene, idx: Indices, ratio: Samples, one: _Pass
) -> tuple[Samples, Flags]:  # fmt: skip
    """Return for each window of beats the step in its middle, and whether it is one."""
    b, side = scene.beats, one.side
    width = 2 * side + SKIP
    left, right = _sides(ratio, side)
    size = np.median(right, axis=1) - np.median(left, axis=1)
    spread = 0.5 * (robust_sd(left) + robust_sd(right))
    drift = np.maximum(_drift(left), _drift(right))
    steady = np.abs(size) >= np.maximum(one.least, SPREADS * spread)
    steady &= drift <= LEVEL * np.abs(size)
    jump = (right[:, 0] - left[:, -1]) * np.sign(size)
    steady &= jump >= AT_ONCE * np.abs(size)
    abrupt = np.where(np.abs(size) < SMALL, one.abrupt_small, ABRUPT)
    steady &= jump >= abrupt * np.maximum(_jolt(left), _jolt(right))
    start, end = b.start_s[idx], b.end_s[idx]
    n = size.size
    longest = end[width - 1 : width - 1 + n] - start[:n]
    total = np.concatenate(([0.0], np.cumsum(b.length_s[idx])))
    steady &= longest <= total[width : width + n] - total[:n] + GAP_S
    at_step = start[side + SKIP : side + SKIP + n] - end[side - 1 : side - 1 + n]
    steady &= at_step <= b.length_s[idx][side : side + n] + STEP_GAP_S
    for row, most in ((b.pa_mean_mmhg, PA_STAYS), (b.length_s, RATE_STAYS)):
        x, y = _sides(np.log(row[idx]), side)
        moved = np.abs(np.median(y, axis=1) - np.median(x, axis=1))
        for k in np.flatnonzero(steady & (moved > most)).tolist():
            usual = min(_usual_nearby(moved, k, width), BREATHES * most)
            steady[k] = moved[k] <= usual
    for k in np.flatnonzero(steady).tolist():
        usual = _usual_nearby(np.abs(size), k, width)
        steady[k] = abs(size[k]) >= one.stands_out * usual
    return size, steady


def _usual_nearby(size: Samples, k: int, width: int) -> float:
    """Return how large such differences are around a window in those that do not overlap it."""
    before = size[max(k - AROUND, 0) : max(k - width, 0)]
    near = np.concatenate((before, size[k + width + 1 : k + AROUND]))
    return float(np.quantile(near, USUAL)) if near.size >= width else 0.0


def _cold(grid: Grid, at_s: float) -> bool:
    """Return whether the sensor is colder than usual for long enough: an infusion runs or ran."""
    if grid.temp_c is None:
        return False
    here = grid.temp_c[grid.index(at_s - COLD_BEFORE_S) : grid.index(at_s + COLD_AFTER_S)]
    if np.isnan(here).all():
        return False
    thin = grid.temp_c[:: max(round(grid.rate_hz), 1)]
    return float(np.nanquantile(here, COLD_SHARE)) < float(np.nanquantile(thin, 0.6)) - COLD_C


def _sides(x: Samples, side: int) -> tuple[Samples, Samples]:
    view = np.lib.stride_tricks.sliding_window_view(x, 2 * side + SKIP)
    return view[:, :side], view[:, side + SKIP :]


def _drift(rows: Samples) -> Samples:
    half = rows.shape[1] // 2
    return np.abs(np.median(rows[:, half:], axis=1) - np.median(rows[:, :half], axis=1))


def _holds(ratio: Samples, k: int, size: float, side: int) -> bool:
    """Return whether the levels before and after a step hold for another stretch of beats."""
    after = k + side + SKIP
    first, last = ratio[k : k + side], ratio[after : after + side]
    earlier, later = ratio[max(k - SIDE, 0) : k], ratio[after + side : after + side + SIDE]
    return all(
        abs(float(np.median(x)) - float(np.median(y))) <= HOLDS * abs(size)
        for x, y in ((earlier, first), (later, last))
        if x.size == SIDE
    )


def _jolt(rows: Samples) -> Samples:
    """Return the second largest change over two beats within each row: one may be an outlier."""
    change = np.sort(np.abs(rows[:, 2:] - rows[:, :-2]), axis=1)
    return np.asarray(change[:, -min(2, change.shape[1])])


def _tops(size: Samples, steady: Flags, apart: int) -> list[int]:
    """Return the largest steps, more than ``apart`` windows apart."""
    found: list[int] = []
    order = np.flatnonzero(steady)
    for k in order[np.argsort(-size[order], kind="stable")].tolist():
        if all(abs(k - m) > apart for m in found):
            found.append(k)
    return sorted(found)
