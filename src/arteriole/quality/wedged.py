"""A guide that blocks the ostium: Pa ventricularised, low while blood runs off behind it.

Signature: Pa's mean falls within three beats by 6 % or more, stays low, and comes back as fast
within 60 s; Pd falls with it, and Pa's diastolic falls more than its systolic or its pulse widens.
Drugs, breathing and rhythm move Pa slowly or come back at once. Pa is not the aorta's pressure
then, so its means are not used. Our choice, decision 0033. Look-ahead: until Pa comes back,
60 s at most.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, spans_of_beats
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags

CODE = "pa_ventricularised"
SIDE = 4  # beats on either side of a fall
FALL, RISE = -0.065, 0.055  # of ln Pa
DIASTOLIC_FALL = -0.05  # of ln diastolic Pa
PD_SHARE = 0.4  # of Pa's fall that Pd must show
LONGEST_S, SHORTEST_S = 60.0, 3.0
HEARD = 0.6  # of the beats between are not disturbed otherwise
MOSTLY = 0.85  # of the beats between lie low
EVEN, BREATHING = 0.06, 0.13  # in an even rhythm breathing moves four beats by less (ln)
BREATHS, LOWEST_BREATH = 25, 0.1  # beats that hold some breaths, and the quantile at their lowest
NOISE = 3.5  # times the spread of such differences over the recording


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the beats between a fast fall of Pa and its fast return."""
    b = scene.beats
    idx = np.flatnonzero(sound & ~b.on_pd & (b.pa_mean_mmhg > 0.0) & (b.pa_diastolic_mmhg > 0.0))
    flags = np.zeros(b.count, dtype=np.bool_)
    if idx.size < 4 * SIDE:
        return Seen(code=CODE)
    level = np.log(b.pa_mean_mmhg[idx])
    step = _step(level)
    low = _step(np.log(b.pa_diastolic_mmhg[idx]))
    pd = np.nan_to_num(_step(np.log(np.maximum(b.pd_mean_mmhg[idx], 1.0))))
    limit = NOISE * 1.4826 * float(np.median(np.abs(step - np.median(step))))
    if float(np.median(np.abs(np.diff(np.log(b.length_s[idx]))))) < EVEN:
        limit = min(limit, BREATHING)
    falls = _peaks(-step, max(-FALL, limit))
    falls &= (low <= DIASTOLIC_FALL) & (pd <= PD_SHARE * step)
    rises = _peaks(step, max(RISE, limit))
    at_rise = np.flatnonzero(rises)
    diastolic = b.pa_diastolic_mmhg[idx]
    for k in np.flatnonzero(falls).tolist():
        # breathing lifts Pa within the span too: the first rise that ends it for good counts
        for m in at_rise[at_rise > k + 2].tolist():
            long = float(b.start_s[idx[m]] - b.start_s[idx[k]])
            if long > LONGEST_S:
                break
            before = float(np.median(level[max(k - SIDE, 0) : k]))
            inside = float(np.median(level[k + 1 : m]))
            after = float(np.median(level[m + 1 : m + 1 + SIDE]))
            under = float(np.mean(level[k:m] < 0.5 * (min(before, after) + inside)))
            if (
                long >= SHORTEST_S
                and inside < before + FALL
                and inside < after - RISE
                and under >= MOSTLY
                and m - k >= HEARD * (idx[m] - idx[k])
                and _below_breathing(diastolic, k, m)
            ):
                flags[idx[k] : idx[m]] = True
                break
    spans = spans_of_beats(CODE, "pa", flags, b)
    findings = tuple(
        Finding(
            code=CODE, severity="caution", channel="pa", start_s=s.start_s, end_s=s.end_s,
            message=f"Pa falls and comes back within a beat or two, {s.start_s:.1f} to "
            f"{s.end_s:.1f} s, as when the guide blocks the ostium.",
            do="These beats are left out. Ease the guide off the ostium and read again.",
        )
        for s in spans
    )  # fmt: skip
    return Seen(code=CODE, spans=spans, findings=findings, pa_bad=flags, shape_bad=flags)


def _below_breathing(diastolic_mmhg: Samples, k: int, m: int) -> bool:
    """Return whether diastole lies below what breathing does to it before and after."""
    usual = [
        float(np.quantile(part, LOWEST_BREATH))
        for part in (diastolic_mmhg[max(k - BREATHS, 0) : k], diastolic_mmhg[m : m + BREATHS])
        if part.size > SIDE
    ]
    return not usual or float(np.median(diastolic_mmhg[k:m])) < min(usual)


def _step(x: Samples) -> Samples:
    """Return median of the next ``SIDE`` beats less that of the beats before, shape (n,)."""
    row = np.full(x.size, np.nan)
    view = np.lib.stride_tricks.sliding_window_view(x, SIDE)
    middle = np.median(view, axis=1)
    row[SIDE : x.size - SIDE + 1] = middle[SIDE:] - middle[:-SIDE]
    return np.asarray(np.nan_to_num(row))


def _peaks(x: Samples, limit: float) -> Flags:
    """Return local maxima of ``x`` above ``limit`` within two beats, shape (n,)."""
    padded = np.concatenate((np.full(2, -np.inf), x, np.full(2, -np.inf)))
    near = np.lib.stride_tricks.sliding_window_view(padded, 5).max(axis=1)
    return np.asarray((x >= near) & (x >= limit))
