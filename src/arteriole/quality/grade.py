"""The detectors' words put together into one verdict per beat."""

from collections.abc import Sequence

import numpy as np

from arteriole.quality.quality import Quality
from arteriole.quality.scene import Scene, Seen


def merged(scene: Scene, seen: Sequence[Seen]) -> Quality:
    """Return the verdict on every beat; the first detector that harms a beat names the cause."""
    n = scene.beats.count
    pa_bad = np.isnan(scene.beats.pa_mean_mmhg)
    pd_bad = np.isnan(scene.beats.pd_mean_mmhg)
    shape_bad = np.zeros(n, dtype=np.bool_)
    irregular = np.zeros(n, dtype=np.bool_)
    probability = np.zeros(n)
    cause = np.full(n, "", dtype=object)
    for s in seen:
        harmed = np.zeros(n, dtype=np.bool_)
        for flags, total in (
            (s.pa_bad, pa_bad), (s.pd_bad, pd_bad), (s.shape_bad, shape_bad),
            (s.irregular, irregular),
        ):  # fmt: skip
            if flags is not None:
                total |= flags
                harmed |= flags
        cause[harmed & (cause == "")] = s.code
        sure = harmed.astype(np.float64) if s.probability is None else s.probability
        probability = np.maximum(probability, sure)
    findings = [f for s in seen for f in s.findings]
    return Quality(
        pa_ok=~pa_bad,
        pd_ok=~pd_bad,
        shape_ok=~(shape_bad | pa_bad | pd_bad),
        regular=~irregular,
        cause=tuple(cause.tolist()),
        probability=probability,
        spans=tuple(sorted((x for s in seen for x in s.spans), key=lambda x: x.start_s)),
        findings=tuple(sorted(findings, key=lambda f: (f.start_s or 0.0, f.code))),
    )
