"""A transducer open to air: pressure near zero without a pulse. Zeroing looks like this.

Signature: half-second means within 12 mmHg of zero and hardly any range for a second or more;
our choice, decision 0033. Look-ahead: 1 s.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, touched
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags, Grid
from arteriole.signal.graded import Span
from arteriole.signal.smooth import runs

CODE = "open_to_air"
BLOCK_S = 0.25
NEAR_ZERO_MMHG = 12.0
STILL_MMHG = 5.0
LEAST_S = 1.0


def detect(scene: Scene, _sound: Flags) -> Seen:
    """Return where Pa or Pd lie open to air; a note, for zeroing is part of the work."""
    pa = _open("pa", scene.grid.pa_mmhg, scene.grid)
    pd = _open("pd", scene.grid.pd_mmhg, scene.grid)
    findings = tuple(
        Finding(
            code=CODE,
            severity="note",
            channel=s.channel,
            start_s=s.start_s,
            end_s=s.end_s,
            message=f"{s.channel} lies open to air (zero, no pulse) for "
            f"{s.end_s - s.start_s:.1f} s.",
            do="Left out of every value. Nothing to do if this was the zeroing.",
        )
        for s in pa
    )
    pa_bad, pd_bad = touched(pa, scene.beats), touched(pd, scene.beats)
    return Seen(
        code=CODE, spans=(*pa, *pd), findings=findings, pa_bad=pa_bad, pd_bad=pd_bad,
        shape_bad=pa_bad | pd_bad,
    )  # fmt: skip


def _open(name: str, x: Samples, grid: Grid) -> tuple[Span, ...]:
    block = max(round(BLOCK_S * grid.rate_hz), 1)
    n = x.size // block
    if not n:
        return ()
    rows = x[: n * block].reshape(n, block)
    low, high, mean = rows.min(axis=1), rows.max(axis=1), rows.mean(axis=1)
    still = (np.abs(mean) <= NEAR_ZERO_MMHG) & (high - low <= STILL_MMHG)
    stretches = runs(still)
    stretches = stretches[stretches[:, 1] - stretches[:, 0] >= LEAST_S / BLOCK_S] * block
    return tuple(
        Span(code=CODE, channel=name, start_s=grid.time_s(a), end_s=grid.time_s(b))
        for a, b in stretches.tolist()
    )
