"""A step in Pd/Pa while nothing else changes: the wire slipped, or Pd's gauge jumped.

``step_fit`` tells a step from breathing, wandering and a drug that comes. Near the start and the
end of a recording, or with a cold sensor, a step belongs to the wire's way in or out and is a note.
Our choice, decisions 0034 and 0094.
Look-ahead: 25 beats or 20 s.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen
from arteriole.quality.step_fit import FittedStep, fitted_steps
from arteriole.recording import Finding
from arteriole.signal import Beats, Flags, Grid
from arteriole.signal.graded import Span

CODE = "ratio_step"
#: A sensor this cold for this share of the seconds around lies in an infusion: moved on purpose.
COLD_C, COLD_SHARE = 0.35, 0.4
COLD_BEFORE_S, COLD_AFTER_S = 10.0, 4.0
WAY_S = 75.0  # the wire's way in and out
LONG_GAP_S = 2.0  # a step across more than this is told as between two times


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the steps; beats stay usable, for either side may be right."""
    b, grid = scene.beats, scene.grid
    spans: list[Span] = []
    findings: list[Finding] = []
    for step in fitted_steps(scene, sound):
        time = float(b.start_s[step.after])
        span = Span(code=CODE, channel="pd", start_s=time, end_s=float(b.end_s[step.after]))
        spans.append(span)
        on_way = time < grid.start_s + WAY_S or time > grid.end_s - WAY_S or _cold(grid, time)
        findings.append(Finding(
            code=CODE, severity="note" if on_way else "caution", channel="pd",
            start_s=_since(b, step), end_s=span.end_s,
            message=f"Pd/Pa steps by {step.size:+.3f} {_when(b, step)} while Pa and the rate stay.",
            do="Look whether the wire slipped or its plug was touched; compare both sides.",
        ))  # fmt: skip
    return Seen(code=CODE, spans=tuple(spans), findings=tuple(findings))


def _since(b: Beats, step: FittedStep) -> float:
    """Return the earliest time of a step: where beats are lost in between, the end of the last."""
    start, end = float(b.end_s[step.before]), float(b.start_s[step.after])
    return end if end - start < LONG_GAP_S else start


def _when(b: Beats, step: FittedStep) -> str:
    """Return "at 12.3 s", or between which times."""
    start, end = _since(b, step), float(b.start_s[step.after])
    return f"at {end:.1f} s" if start == end else f"between {start:.1f} and {end:.1f} s"


def _cold(grid: Grid, at_s: float) -> bool:
    """Return whether the sensor is colder than usual for long enough: an infusion runs or ran."""
    if grid.temp_c is None:
        return False
    here = grid.temp_c[grid.index(at_s - COLD_BEFORE_S) : grid.index(at_s + COLD_AFTER_S)]
    if np.isnan(here).all():
        return False
    thin = grid.temp_c[:: max(round(grid.rate_hz), 1)]
    return float(np.nanquantile(here, COLD_SHARE)) < float(np.nanquantile(thin, 0.6)) - COLD_C
