"""A step in Pd/Pa while nothing else changes: the wire slipped, or Pd's gauge jumped.

Signature: six beats before and six after lie level, their ratios differ by 0.0065 or more and by
more than their spread, while Pa and the rate stay. Near the start and the end of a recording a
step belongs to the wire's way in or out and is a note. Our choice, decision 0034.
Look-ahead: thirteen beats.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags, Grid
from arteriole.signal.graded import Span

CODE = "ratio_step"
SIDE = 6  # beats
SKIP = 1  # beat left out on the step
LEAST = 0.0065
SPREADS = 6.0  # of the beats on either side
LEVEL = 0.25  # of the step: the most that a side may move by itself
AT_ONCE = 0.75  # of the step lies between the two beats on either side of it
HOLDS = 0.5  # of the step: the most that the level may move over the next beats
SMALL, ABRUPT_SMALL = 0.015, 4.5  # a small step must stand out more
ABRUPT = 2.5  # times any other change over two beats on either side
COLD_C, COLD_S = 0.35, 4.0  # a sensor this cold lies in an infusion: moved on purpose
PA_STAYS, RATE_STAYS = 0.07, 0.15  # of ln
GAP_S = 6.0  # lost on either side, beyond the beats
STEP_GAP_S = 1.0  # lost at the step itself: a step across a lost stretch proves nothing
WAY_S = 75.0  # the wire's way in and out


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the steps; beats stay usable, for either side may be right."""
    b, grid = scene.beats, scene.grid
    ok = sound & ~b.on_pd & (b.pa_mean_mmhg > 0.0) & (b.pd_mean_mmhg > 0.0)
    idx = np.flatnonzero(ok)
    width = 2 * SIDE + SKIP
    if idx.size < width:
        return Seen(code=CODE)
    ratio = b.pd_mean_mmhg[idx] / b.pa_mean_mmhg[idx]
    left, right = _sides(ratio)
    size = np.median(right, axis=1) - np.median(left, axis=1)
    spread = 0.5 * (_spread(left) + _spread(right))
    drift = np.maximum(_drift(left), _drift(right))
    steady = (np.abs(size) >= np.maximum(LEAST, SPREADS * spread)) & (drift <= LEVEL * np.abs(size))
    jump = (right[:, 0] - left[:, -1]) * np.sign(size)
    steady &= jump >= AT_ONCE * np.abs(size)
    abrupt = np.where(np.abs(size) < SMALL, ABRUPT_SMALL, ABRUPT)
    steady &= jump >= abrupt * np.maximum(_jolt(left), _jolt(right))
    for row, most in ((b.pa_mean_mmhg, PA_STAYS), (b.length_s, RATE_STAYS)):
        x, y = _sides(np.log(row[idx]))
        steady &= np.abs(np.median(y, axis=1) - np.median(x, axis=1)) <= most
    start, end = b.start_s[idx], b.end_s[idx]
    n = size.size
    longest = end[width - 1 : width - 1 + n] - start[:n]
    total = np.concatenate(([0.0], np.cumsum(b.length_s[idx])))
    steady &= longest <= total[width : width + n] - total[:n] + GAP_S
    at_step = start[SIDE + SKIP : SIDE + SKIP + n] - end[SIDE - 1 : SIDE - 1 + n]
    steady &= at_step <= b.length_s[idx][SIDE : SIDE + n] + STEP_GAP_S
    spans: list[Span] = []
    findings: list[Finding] = []
    for k in _tops(np.abs(size), steady):
        if not _holds(ratio, k, float(size[k])):
            continue
        at = float(start[k + SIDE])
        span = Span(code=CODE, channel="pd", start_s=at, end_s=float(end[k + SIDE]))
        spans.append(span)
        on_way = at < grid.start_s + WAY_S or at > grid.end_s - WAY_S or _cold(grid, at)
        findings.append(Finding(
            code=CODE, severity="note" if on_way else "caution", channel="pd",
            start_s=span.start_s, end_s=span.end_s,
            message=f"Pd/Pa steps by {size[k]:+.3f} at {at:.1f} s while Pa and the rate stay.",
            do="Look whether the wire slipped or its plug was touched; compare both sides.",
        ))  # fmt: skip
    return Seen(code=CODE, spans=tuple(spans), findings=tuple(findings))


def _cold(grid: Grid, at_s: float) -> bool:
    """Return whether the sensor is colder than usual around a time: an infusion runs."""
    if grid.temp_c is None:
        return False
    here = grid.temp_c[grid.index(at_s - COLD_S) : grid.index(at_s + COLD_S)]
    if np.isnan(here).all():
        return False
    thin = grid.temp_c[:: max(round(grid.rate_hz), 1)]
    return float(np.nanmedian(here)) < float(np.nanquantile(thin, 0.6)) - COLD_C


def _sides(x: Samples) -> tuple[Samples, Samples]:
    view = np.lib.stride_tricks.sliding_window_view(x, 2 * SIDE + SKIP)
    return view[:, :SIDE], view[:, SIDE + SKIP :]


def _spread(rows: Samples) -> Samples:
    middle = np.median(rows, axis=1, keepdims=True)
    return np.asarray(1.4826 * np.median(np.abs(rows - middle), axis=1))


def _drift(rows: Samples) -> Samples:
    half = SIDE // 2
    return np.abs(np.median(rows[:, half:], axis=1) - np.median(rows[:, :half], axis=1))


def _holds(ratio: Samples, k: int, size: float) -> bool:
    """Return whether the levels before and after a step hold for another stretch of beats."""
    first, last = ratio[k : k + SIDE], ratio[k + SIDE + SKIP : k + 2 * SIDE + SKIP]
    earlier = ratio[max(k - SIDE, 0) : k]
    later = ratio[k + 2 * SIDE + SKIP : k + 3 * SIDE + SKIP]
    return all(
        abs(float(np.median(x)) - float(np.median(y))) <= HOLDS * abs(size)
        for x, y in ((earlier, first), (later, last))
        if x.size == SIDE
    )


def _jolt(rows: Samples) -> Samples:
    """Return the second largest change over two beats within each row: one may be an outlier."""
    return np.asarray(np.sort(np.abs(rows[:, 2:] - rows[:, :-2]), axis=1)[:, -2])


def _tops(size: Samples, steady: Flags) -> list[int]:
    """Return the largest steps, at least two windows apart."""
    found: list[int] = []
    order = np.flatnonzero(steady)
    for k in order[np.argsort(-size[order], kind="stable")].tolist():
        if all(abs(k - m) > 2 * SIDE for m in found):
            found.append(k)
    return sorted(found)
