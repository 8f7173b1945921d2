"""When hyperaemia was there: per second, and the ratio over its plateau."""

from typing import Any

import numpy as np

from arteriole.simulate.acts import (
    Act,
    Adenosine,
    DriftCheck,
    Migrate,
    Pullback,
    Wedge,
    Window,
    of_kind,
)  # fmt: skip
from arteriole.simulate.course import Course
from arteriole.simulate.quiet import true_pa

MOVING_S = 5.0  # moving ratio over the plateau
AFTER_WEDGE_S = 6.0  # a blocked ostium has been made good; decision 0024
STEADY = 0.90  # of full dilation; below it hyperaemia is not there; decision 0024
LEVEL = 0.97  # of the quiet window's dilation: the plateau has begun; decision 0024


def plateau_span(course: Course) -> tuple[float, float]:
    """Return when dilation first reached its steady part and when the sensor was moved, s."""
    moves: list[Act] = [*of_kind(course.acts, Pullback), *of_kind(course.acts, DriftCheck)]
    moved = [a.start_s for a in moves]
    window = next(w for w in of_kind(course.acts, Window) if w.state == "hyper")
    drug = [a for a in of_kind(course.acts, Adenosine) if a.start_s < window.start_s][-1]
    stop = min([m for m in moved if m > drug.start_s] or [window.end_s])
    if drug.route == "intracoronary":
        stop = min(stop, window.end_s)
    on = (course.t_s >= drug.start_s) & (course.t_s < stop)
    level = LEVEL * float(np.median(course.dilation[(course.t_s >= window.start_s) & on]))
    for w in of_kind(course.acts, Wedge):
        on &= course.t_s >= w.end_s + AFTER_WEDGE_S
    for m in of_kind(course.acts, Migrate):
        stop = min(stop, m.start_s) if m.start_s > drug.start_s else stop
    reached = np.flatnonzero(on & (course.dilation >= level))
    begin = float(course.t_s[reached[0]]) if reached.size else window.start_s
    # a drug in waves may reach its level only after the wire has slipped
    return begin if begin < stop else stop - MOVING_S, stop


def plateau_ratio(course: Course) -> tuple[float, float, float]:
    """Return lowest 5 s ratio, whole ratio and highest 5 s ratio of the plateau."""
    a, b = (int(s * course.rate_hz) for s in plateau_span(course))
    n = int(MOVING_S * course.rate_hz)
    pa, pd = np.cumsum(true_pa(course)[a:b]), np.cumsum(course.pd_mmhg[a:b])
    short = pa.size <= n
    ratio = pd[-1:] / pa[-1:] if short else (pd[n:] - pd[:-n]) / (pa[n:] - pa[:-n])
    return float(ratio.min()), float(pd[-1] / pa[-1]), float(ratio.max())


def hyperaemia_seconds(course: Course) -> dict[str, Any]:
    """Return dilation and the state of hyperaemia for every second, and the steady span.

    ``building`` until ``STEADY`` of full dilation, ``steady`` above it, ``fading`` when it falls
    below after the drug stopped, ``not reached`` where it never gets there.
    """
    step = round(course.rate_hz)
    level = course.dilation[::step]
    seconds = np.arange(level.size)
    names: list[str] = ["none"] * level.size
    drugs = of_kind(course.acts, Adenosine)
    ends = [*(d.start_s for d in drugs[1:]), float(level.size)]
    for drug, end_s in zip(drugs, ends, strict=True):
        on = (seconds >= int(drug.start_s)) & (seconds < int(end_s))
        reached = np.flatnonzero(on & (level >= STEADY))
        for k in np.flatnonzero(on):
            if not reached.size:
                names[k] = "not reached"
            elif level[k] >= STEADY:
                names[k] = "steady"
            else:
                late = drug.route == "intravenous" and k > drug.end_s
                names[k] = "fading" if late or k > reached[-1] else "building"
    span = plateau_span(course)
    return {
        "second": seconds.tolist(),
        "dilation": [round(float(v), 4) for v in level],
        "state": names,
        "plateau_span": list(span),
        "reached": "steady" in names,
    }
