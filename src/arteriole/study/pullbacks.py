"""The pullback that is read, measured with the effective episodes, and what is held against it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from arteriole.episodes import Episode, Gauge, PullbackTrace
from arteriole.episodes.pullback_profile import measure_pullback
from arteriole.recording import Finding, Sheet
from arteriole.study.gauges import drift_of
from arteriole.study.measure import Measurement
from arteriole.study.repeats import AROUND_S, read_one


def pullback_trace(
    measurement: Measurement, episodes: Sequence[Episode], sheet: Sheet, gauge: Gauge
) -> PullbackTrace | None:
    """Return the pullback that is read, as measured, or None where there is none."""
    one = read_one(episodes, "pullback")
    if one is None or measurement.found.trend.cut:
        return None
    if one.source == "marked" and not one.phase:
        hyper = any(e.kind == "hyperaemia" and e.start_s < one.start_s for e in episodes)
        one = replace(one, phase="hyperaemia" if hyper else "rest")
    moved, per_s = drift_of(gauge)
    return measure_pullback(
        measurement.found.trend.between(*_alone(one, episodes)), one, sheet.pullback.length_mm,
        gauge.drift.offset_mmhg or 0.0,
        speed_mm_s=sheet.pullback.speed_mm_s, drift_mmhg_s=per_s, moved_mmhg=moved,
    )  # fmt: skip


def _alone(one: Episode, episodes: Sequence[Episode]) -> tuple[float, float]:
    """Return the time in which the levels at both ends belong to this pullback, s.

    Where the wire was drawn twice, the guide before it and the vessel after it belong to the other.
    """
    if sum(e.kind == "pullback" for e in episodes) < 2:
        return -np.inf, np.inf
    checks = [e for e in episodes if e.kind == "drift_check"]
    after = [e.end_s for e in checks if e.start_s > one.end_s - AROUND_S]
    before = [e.end_s for e in checks if e.end_s < one.start_s]
    return max(before, default=-np.inf), min(after, default=np.inf)


def findings_of(trace: PullbackTrace | None, sheet: Sheet) -> tuple[Finding, ...]:
    """Return what speaks against the pullback's places."""
    length, speed = sheet.pullback.length_mm, sheet.pullback.speed_mm_s
    if trace is None or not trace.apart or length is None or speed is None:
        return ()
    return (Finding(
        code="pullback_pace", severity="caution", channel="pd",
        start_s=trace.start_s, end_s=trace.end_s,
        message=f"The pullback took {trace.end_s - trace.start_s:.0f} s as found, but "
        f"{length / speed:.0f} s by length and speed on the sheet: places and pattern are not "
        "sure.",
        do="Check length and speed on the sheet, or mark where the motion began and ended.",
    ),)  # fmt: skip
