"""Lost samples on any channel.

Signature: empty samples. Look-ahead: none; a gap is known when it ends.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, seconds, spans_of_samples, touched
from arteriole.recording import Finding
from arteriole.recording.finding import Severity
from arteriole.signal import Flags
from arteriole.signal.graded import Span
from arteriole.signal.smooth import runs

CODE = "signal_lost"
LONG_S = 0.1  # a gap that costs a beat its foot or its mean; our choice, decision 0033
SHARED = 0.95  # of a gap also lost on every channel: nothing was recorded, as between runs


def detect(scene: Scene, _sound: Flags) -> Seen:
    """Return gaps per channel; a gap of a tenth of a second or more is a caution."""
    grid = scene.grid
    rows = [("pa", grid.pa_mmhg), ("pd", grid.pd_mmhg), ("temp", grid.temp_c),
            ("shaft_temp", grid.shaft_c), ("ecg", grid.ecg_mv)]  # fmt: skip
    lost = {name: np.isnan(x) for name, x in rows if x is not None and not np.isnan(x).all()}
    if not lost:
        return Seen(code=CODE)
    everywhere = np.concatenate(([0], np.cumsum(np.all(list(lost.values()), axis=0))))
    spans: list[Span] = []
    findings: list[Finding] = []
    for name, flags in lost.items():
        if not flags.any():
            continue
        stretches = runs(flags)
        length = stretches[:, 1] - stretches[:, 0]
        both = everywhere[stretches[:, 1]] - everywhere[stretches[:, 0]]
        pause = (both >= SHARED * length) & (len(lost) > 1)
        mine = spans_of_samples(CODE, name, stretches, grid)
        spans += mine
        own = tuple(s for s, p in zip(mine, pause.tolist(), strict=True) if not p)
        if own:
            findings.append(_finding(name, own))
    pa = tuple(s for s in spans if s.channel == "pa")
    pd = tuple(s for s in spans if s.channel == "pd")
    pa_bad, pd_bad = touched(pa, scene.beats), touched(pd, scene.beats)
    return Seen(
        code=CODE, spans=tuple(spans), findings=tuple(findings), pa_bad=pa_bad, pd_bad=pd_bad,
        shape_bad=pa_bad | pd_bad,
    )  # fmt: skip


def _finding(channel: str, spans: tuple[Span, ...]) -> Finding:
    longest = max(spans, key=lambda s: s.end_s - s.start_s)
    long = longest.end_s - longest.start_s
    severity: Severity = "caution" if long >= LONG_S and channel in ("pa", "pd", "temp") else "note"
    return Finding(
        code=CODE, severity=severity, channel=channel, start_s=spans[0].start_s,
        end_s=spans[-1].end_s,
        message=f"{len(spans)} stretch(es), {seconds(spans):.1f} s in all, hold no {channel} "
        f"signal; the longest, {long:.2f} s, begins at {longest.start_s:.1f} s.",
        do="Beats in these stretches are left out. Check the plug and the export if it matters.",
    )  # fmt: skip
