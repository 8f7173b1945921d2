"""Wire whip: the sensor strikes the wall at each beat; spikes in Pd, none in Pa.

Signature: what is faster than 20 Hz in Pd, as a share of the pulse, rises over this recording's
own quiet beats and over Pa's. Our choice, decision 0033; >20 Hz at systole is common practice.
Look-ahead: two beats.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen, spans_of_beats, usual
from arteriole.recording import Finding
from arteriole.signal import Flags

CODE = "wire_whip"
QUIET = 0.25  # quantile of the beats that gives the quiet share
OVER_QUIET, OVER_PA = 1.6, 1.6
LEAST = 0.011  # of the pulse
RUN = 5
FEWEST = 20
LEAST_S = 4.0
FEWEST_STRUCK = 3  # beats struck themselves: one on the wire's way in is not whip
SMALL_PULSE_MMHG = 8.0


def detect(scene: Scene, sound: Flags) -> Seen:
    """Return the beats struck: Pd's shape lost, its mean kept."""
    b = scene.beats
    known = sound & (scene.pd_pulse_mmhg > SMALL_PULSE_MMHG) & np.isfinite(scene.pd_fast_mmhg)
    if int(known.sum()) < FEWEST:
        return Seen(code=CODE)
    share = np.where(known, scene.pd_fast_mmhg / np.maximum(scene.pd_pulse_mmhg, 1.0), np.nan)
    pa = np.where(known, scene.pa_fast_mmhg / np.maximum(scene.pa_pulse_mmhg, 1.0), np.nan)
    own = share
    share, pa = usual(share, RUN), usual(pa, RUN)
    quiet = float(np.nanquantile(share, QUIET))
    ordinary = max(quiet, LEAST / OVER_QUIET)
    struck = known & (share > OVER_QUIET * ordinary)
    struck &= share > OVER_PA * np.nan_to_num(pa, nan=0.0)
    all_struck = (
        quiet > OVER_PA * float(np.nanquantile(pa, 0.5)) if np.isfinite(pa).any() else False
    )
    if all_struck and quiet > 1.5 * LEAST:
        struck = known & (share > OVER_PA * np.nan_to_num(pa, nan=0.0))
    spans = spans_of_beats(CODE, "pd", struck, b, join_s=6.0)
    hit = np.asarray(own > 0.5 * (OVER_QUIET * ordinary + quiet))
    spans = tuple(
        s for s in spans
        if s.end_s - s.start_s >= LEAST_S
        and int(np.sum(hit & struck & b.between(s.start_s, s.end_s))) >= FEWEST_STRUCK
    )  # fmt: skip
    findings = tuple(
        Finding(
            code=CODE, severity="caution", channel="pd", start_s=s.start_s, end_s=s.end_s,
            message=f"Pd is spiked at each beat for {s.end_s - s.start_s:.0f} s while Pa is not: "
            "the sensor strikes the wall.",
            do="Draw or turn the wire a few millimetres and read again.",
        )
        for s in spans
    )  # fmt: skip
    return Seen(code=CODE, spans=spans, findings=findings, shape_bad=np.asarray(struck))
