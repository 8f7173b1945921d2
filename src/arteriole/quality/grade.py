"""The detectors' words put together into one verdict per beat."""

from collections.abc import Sequence

import numpy as np

from arteriole.quality import clipped
from arteriole.quality.scene import Scene, Seen
from arteriole.signal import Flags
from arteriole.signal.graded import Quality

#: How often a beat called so by rules was so: share of the calls in 60 SIMULATED sessions; the
#: others are facts (a lost sample) or were right in all. Decision 0095.
RIGHT = {"ectopy": 0.95, "pa_disturbed": 0.96, "wire_whip": 0.99}
#: Of the beats that are cut or stand, beyond which none stands; our choice, decision 0101.
MOST_CUT = 0.75


def _or_none(flags: Flags | None, n: int) -> Flags:
    return np.zeros(n, dtype=np.bool_) if flags is None else flags


def harmed_by(seen: Seen, n: int) -> Flags:
    """Return the beats a detector holds anything against, shape (n,)."""
    rows = (seen.pa_bad, seen.pd_bad, seen.shape_bad, seen.irregular)
    return np.asarray(np.any([_or_none(r, n) for r in rows], axis=0))


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
        harmed = harmed_by(s, n)
        pa_bad |= _or_none(s.pa_bad, n)
        pd_bad |= _or_none(s.pd_bad, n)
        shape_bad |= _or_none(s.shape_bad, n)
        irregular |= _or_none(s.irregular, n)
        cause[harmed & (cause == "")] = s.code
        sure = RIGHT.get(s.code, 1.0) * harmed if s.probability is None else s.probability
        probability = np.maximum(probability, sure)
    left = ~(pa_bad | pd_bad)
    cut = cause == clipped.CODE
    if int(cut.sum()) > MOST_CUT * int((cut | left).sum()):
        # The few uncut ones are those of the lowest or highest pressure, not a sample of all.
        pa_bad |= left
        cause[left & (cause == "")] = clipped.CODE
        probability[left] = 1.0
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
