"""A channel whose range ends too early: its tops or bottoms are cut flat.

Signature: runs of one and the same value that are the highest or lowest of the seconds around,
again and again at the same level. Noise makes every other flat stretch uneven. Look-ahead: 4 s.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, seconds, touched
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags, Grid
from arteriole.signal.graded import Span
from arteriole.signal.smooth import runs

CODE = "signal_clipped"
FLAT_S = 0.050  # of one value; decision 0033
FLAT_SAMPLES = 5
SLOW_FLAT_S, SLOW_FLAT_SAMPLES = 0.30, 20  # a temperature is flat by chance for longer
AROUND_S = 4.0
PULSELESS_MMHG = 6.0
AGAIN = 3  # times the same level within REACH_S
REACH_S = 10.0


def detect(scene: Scene, _sound: Flags) -> Seen:
    """Return cut stretches of Pa, Pd and temperature."""
    grid = scene.grid
    rows = [("pa", grid.pa_mmhg), ("pd", grid.pd_mmhg), ("temp", grid.temp_c)]
    spans: list[Span] = []
    for name, x in rows:
        if x is not None:
            spans += _cut(name, x, grid)
    found = tuple(spans)
    findings = []
    for name in ("pa", "pd", "temp"):
        mine = tuple(s for s in found if s.channel == name)
        if mine:
            findings.append(Finding(
                code=CODE, severity="caution", channel=name, start_s=mine[0].start_s,
                end_s=mine[-1].end_s,
                message=f"{name} is cut flat at one level in {len(mine)} stretch(es), "
                f"{seconds(mine):.1f} s in all.",
                do="Cut beats are left out. Widen the channel's range and record again.",
            ))  # fmt: skip
    pa_bad = touched(tuple(s for s in found if s.channel == "pa"), scene.beats)
    pd_bad = touched(tuple(s for s in found if s.channel == "pd"), scene.beats)
    return Seen(
        code=CODE, spans=found, findings=tuple(findings), pa_bad=pa_bad, pd_bad=pd_bad,
        shape_bad=pa_bad | pd_bad,
    )  # fmt: skip


def _cut(name: str, x: Samples, grid: Grid) -> list[Span]:
    same = np.concatenate(([False], x[1:] == x[:-1]))
    stretches = runs(same)
    slow = name == "temp"
    flat_s, samples = (SLOW_FLAT_S, SLOW_FLAT_SAMPLES) if slow else (FLAT_S, FLAT_SAMPLES)
    least = max(flat_s * grid.rate_hz, samples)
    stretches = stretches[stretches[:, 1] - stretches[:, 0] + 1 >= least]
    around = round(AROUND_S * grid.rate_hz)
    kept: list[tuple[int, int, float]] = []
    for a, b in stretches.tolist():
        near = x[max(a - around, 0) : b + around]
        if np.isnan(near).all():
            continue
        close = x[max(a - around // 8, 0) : b + around // 8]
        if not slow and float(np.nanmax(close) - np.nanmin(close)) < PULSELESS_MMHG:
            continue  # open to air or a closed tap: another detector's
        low, high, level = float(np.nanmin(near)), float(np.nanmax(near)), float(x[a])
        if low < high and level in (low, high):
            kept.append((a - 1, b, level))
    reach = REACH_S * grid.rate_hz
    spans = []
    for a, b, level in kept:
        again = sum(1 for c, _, other in kept if other == level and abs(c - a) <= reach)
        if slow or again >= AGAIN:
            spans.append(
                Span(code=CODE, channel=name, start_s=grid.time_s(a), end_s=grid.time_s(b))
            )
    return spans
