r"""Infusions of continuous thermodilution, from the distal temperature alone.

::

    blood ______                  ^  sensor passes blood       ________
                \                 |                           /
                 \________________|                    ______/
                   mixed, tenths  |                   |
                                  |___________________|  at the outlet: some degrees, flat

The stretch at the outlet is looked for first, since it is cold, flat and long; then the onset
before it, where blood's level was last seen. An infusion without it is a long cold stretch.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.episodes.cold import STEP_S, binned, find_cold
from arteriole.episodes.trend import Trend
from arteriole.recording.channel import Samples
from arteriole.signal import Grid
from arteriole.signal.smooth import rolling_median

#: Shortest and longest infusion that is looked for, s; our choice, decision 0041.
INFUSION_S = (18.0, 240.0)
OUTLET_DROP_C = 1.0  # below the mixture before it; the infusate is some degrees cold; 0048
OUTLET_S = (4.5, 60.0)  # how long the sensor stays at the outlet; decision 0048
FLAT_SHARE, FLAT_PART = 0.75, 0.6  # of the depth, and how much of the stretch lies beyond it
MIXED_S = 12.0  # shortest mixed stretch before the sensor is drawn back; decision 0048
ONSET_DROP_C = 0.08  # least fall of the mixture below blood; decision 0048
BEFORE_S, AFTER_S = (6.0, 0.5), (4.0, 9.0)  # windows on both sides of an onset that is tried, s
STAYS_SHARE = 0.4  # of the fall: the mixture never comes back nearer to blood; decision 0048
LEFT_SHARE = 0.15  # of the fall, at which blood is left
WARM_MARGIN_S = 1.5  # the sensor's way to the outlet passes blood
FASTER_C = 0.3  # an outlet this much colder is that of the faster pump; decision 0048
OPENS = 0.015  # fall of Pd/Pa in one lone infusion that opened the vessel; decision 0041


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundInfusion:
    """Onset and end, s; depth at the outlet below blood, °C, None where it was not seen."""

    start_s: float
    end_s: float
    outlet_c: float | None = None


def find_infusions(grid: Grid, from_s: float) -> tuple[FoundInfusion, ...]:
    """Return the infusions in order of time. Look-ahead: the end of each, at most a minute."""
    if grid.temp_c is None:
        return ()
    raw = binned(grid.temp_c, grid.rate_hz)
    step = max(1, round(STEP_S * grid.rate_hz)) / grid.rate_hz
    good = np.isfinite(raw)
    if good.sum() < INFUSION_S[0] / step:
        return ()
    t: Samples = grid.start_s + (np.arange(raw.size, dtype=np.float64) + 0.5) * step
    temp = rolling_median(np.interp(t, t[good], raw[good]), round(1.0 / step) | 1)
    rows: list[FoundInfusion] = []
    free = from_s
    for left, right in _outlets(t, temp, from_s, step):
        onset = _onset(t, temp, max(free, float(t[left]) - INFUSION_S[1]), left, step)
        if onset is None:
            continue
        depth = onset[1] - float(np.median(temp[left:right]))
        rows.append(FoundInfusion(start_s=onset[0], end_s=float(t[right]), outlet_c=depth))
        free = float(t[right]) + 2.0
    for a, b in _long_cold(grid, from_s):
        if not any(a < r.end_s + 2.0 and r.start_s - 2.0 < b for r in rows):
            rows.append(FoundInfusion(start_s=a, end_s=b))
    return tuple(sorted(rows, key=lambda r: r.start_s))


def phases_of(infusions: Sequence[FoundInfusion], trend: Trend) -> tuple[str, ...]:
    """Return the phase of every infusion, "rest" or "hyperaemia".

    Of several the colder outlet is the faster pump: infusate warms less on its way. Where outlets
    do not differ, the first is at rest. A lone one that lowers Pd/Pa opened the vessel.
    """
    depths = [i.outlet_c for i in infusions if i.outlet_c is not None]
    split = 0.5 * (min(depths) + max(depths)) if depths else 0.0
    apart = len(depths) > 1 and max(depths) - min(depths) > FASTER_C
    rows = []
    for k, one in enumerate(infusions):
        if apart and one.outlet_c is not None:
            hyper = one.outlet_c > split
        elif len(infusions) > 1:
            hyper = k > 0
        else:
            hyper = _fall(one, trend) > OPENS
        rows.append("hyperaemia" if hyper else "rest")
    return tuple(rows)


def _fall(one: FoundInfusion, trend: Trend) -> float:
    before = trend.between(one.start_s - 12.0, one.start_s - 1.0)
    late = trend.between(0.5 * (one.start_s + one.end_s), one.end_s)
    if before.level.size <= 3 or late.level.size <= 3:
        return 0.0
    return float(np.median(before.level) - np.percentile(late.level, 20))


def _outlets(t: Samples, temp: Samples, from_s: float, step: float) -> list[tuple[int, int]]:
    """Return flat cold stretches as (first, one beyond the last) bin."""
    back, ahead = round(10.0 / step), round(2.5 / step)
    rows: list[tuple[int, int]] = []
    k = max(int(np.searchsorted(t, from_s)), back)
    if k >= temp.size - ahead:
        return rows
    levels = np.median(np.lib.stride_tricks.sliding_window_view(temp, back), axis=1)
    while k < temp.size - ahead:
        level = float(levels[k - back])
        if level - temp[k] < OUTLET_DROP_C:
            k += 1
            continue
        deepest = level - float(temp[k : k + ahead].min())
        cold = level - temp[k:] > max(OUTLET_DROP_C, 0.5 * deepest)
        start = k + int(np.argmax(cold))
        end = start + int(np.argmin(cold[start - k :])) if not cold[start - k :].all() else (
            temp.size)  # fmt: skip
        span = (end - start) * step
        part = level - temp[start:end]
        flat = part.size > 0 and float(np.mean(part > FLAT_SHARE * part.max())) > FLAT_PART
        if OUTLET_S[0] <= span <= OUTLET_S[1] and flat and end < temp.size:
            rows.append((start, end))
        elif span > OUTLET_S[0] and not flat:  # a cold mixture: the outlet may still follow
            end = k + ahead
        k = max(end, k + 1)
    return rows


def _onset(
    t: Samples, temp: Samples, from_s: float, left: int, step: float
) -> tuple[float, float] | None:
    """Return when blood was left before the outlet stretch, and blood's level; None: never."""
    stop = left - round(WARM_MARGIN_S / step)
    first = int(np.searchsorted(t, from_s))
    last = stop - round(MIXED_S / step)
    lag0, lag1 = (round(s / step) for s in BEFORE_S)
    far0, far1 = (round(s / step) for s in AFTER_S)
    if last - first < lag0:
        return None
    best, fall = None, ONSET_DROP_C
    smooth = rolling_median(temp, round(2.0 / step) | 1)
    highest = np.maximum.accumulate(smooth[:stop][::-1])[::-1]  # from here to the drawing back
    for k in range(first + lag0, last, max(round(0.3 / step), 1)):
        blood = float(np.median(temp[k - lag0 : k - lag1]))
        drop = blood - float(np.median(temp[k + far0 : k + far1]))
        if drop > fall and highest[k + far0] < blood - STAYS_SHARE * drop:
            best, fall = k, drop
    if best is None:
        return None
    blood = float(np.median(temp[best - lag0 : best - lag1]))
    gone = temp[best - lag0 : best + far0] < blood - LEFT_SHARE * fall
    seen = best - lag0 + (int(np.flatnonzero(~gone)[-1]) + 1 if (~gone).any() else 0)
    return float(t[min(seen, stop - 1)]) - step, blood


def _long_cold(grid: Grid, from_s: float) -> list[tuple[float, float]]:
    """Return long cold stretches that begin and end, as (start, end), s.

    One that never ends is a shifted baseline, not an infusion.
    """
    assert grid.temp_c is not None
    spans: list[list[float]] = []
    for event in find_cold(grid.temp_c, grid, from_s):
        if event.brief:
            continue
        if spans and event.start_s <= spans[-1][1] + 1.0:
            spans[-1][1] = max(spans[-1][1], event.end_s)
        else:
            spans.append([event.start_s, event.end_s])
    return [
        (a, b) for a, b in spans if INFUSION_S[0] <= b - a <= INFUSION_S[1] and b < grid.end_s - 5.0
    ]
