"""Was the sensor at the guide before, and put back: then the wire was drawn more than once.

A climb that is looked for from the end alone swallows an earlier one: its start is then laid into
the time at the guide, and the far end of the vessel is read there. Decision 0097.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.episodes.trend import Trend, running_median

LEAST_S = 4.0  # at the guide, and back in the vessel: as long as a check of the gauges
LEAST_RISE_MMHG = 4.0  # less cannot be told from hyperaemia that sways; our choice, decision 0097
IN_VESSEL = 0.5  # share of the rise below which the sensor is in the vessel again
BEYOND_REST = 0.01  # a ratio so far above that of rest can only be the guide's; decision 0043


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """The sensor at the guide until ``end_s``, and in the vessel again from ``back_s`` on."""

    end_s: float
    back_s: float


def earlier_visit(
    part: Trend, top_mmhg: float, rise_mmhg: float, near_mmhg: tuple[float, float],
    rest_level: float | None,
) -> Visit | None:  # fmt: skip
    """Return the first stay at the guide from which the sensor went back, or None.

    Parameters
    ----------
    part : Trend
        From the last act on.
    top_mmhg, rise_mmhg : float
        Pd minus Pa at the guide, at the end, and by how much that is above the vessel's, mmHg.
    near_mmhg : (float, float)
        Nearer to ``top_mmhg`` than this the sensor is at the guide; and all but there.
    rest_level : float or None
        Pd/Pa of rest; without it a fading hyperaemia cannot be told from the guide.
    """
    if rest_level is None or rise_mmhg < LEAST_RISE_MMHG:
        return None
    t = part.time_s
    gap = running_median(part.pd_mmhg - part.pa_mmhg, 3)
    off = np.abs(gap - top_mmhg)
    at_guide = (off < near_mmhg[1]) & (running_median(part.ratio, 3) > rest_level + BEYOND_REST)
    in_vessel = gap < top_mmhg - IN_VESSEL * rise_mmhg
    edges = np.flatnonzero(np.diff(np.concatenate(([0], at_guide.astype(np.int8), [0]))))
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        there = np.flatnonzero(off[first:past] < near_mmhg[0]) + first
        if not there.size or not in_vessel[:first].any():
            continue
        if t[there[-1]] - t[first] < LEAST_S:
            continue
        later = np.flatnonzero(in_vessel[past:]) + past
        if later.size and t[later[-1]] - t[later[0]] >= LEAST_S:
            return Visit(end_s=float(t[there[-1]]), back_s=float(t[later[0]]))
    return None
