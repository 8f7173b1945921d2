"""Cold stretches of the temperature: boluses, flushes, infusions, and where they begin."""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.signal import Grid

STEP_S = 0.1  # events are found on tenths of a second
BASE_S = 8.0  # the level before an event is the median of this much
DROP_C = 0.25  # least fall that is looked at; flushes and boluses fall by 1 to 8 °C; from memory
NOISES = 6.0
ONSET_SHARE = 4.0  # of the least fall must happen within one second at the onset
#: A bolus falls by half its depth within this time; infusions take longer. decision 0041
FAST_S = 3.0
BACK_SHARE = 0.5  # a bolus has lost half its depth ...
BACK_S = 12.0  # ... this soon; an infusion has not
TWIN_S = 2.0  # two boluses cannot follow each other sooner
BRIEF_S = 6.0  # longest width of a bolus, flush included
ONSET_DEPTH = 0.03  # of the fall is over at the onset; our choice, decision 0012


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdEvent:
    """One cold stretch: onset, end, depth (°C) and whether it is brief like a bolus.

    ``width_s``: how long it was colder than half its depth; ``settled_c``: depth of its second
    half, for infusions.
    """

    start_s: float
    end_s: float
    depth_c: float
    width_s: float
    brief: bool


def binned(values: Samples, rate_hz: float) -> Samples:
    """Return means of tenths of a second, NaN where all samples are lost; shape (m,)."""
    width = max(1, round(STEP_S * rate_hz))
    m = values.size // width
    block = values[: m * width].reshape(m, width)
    good = np.isfinite(block)
    count = good.sum(axis=1)
    total = np.where(good, block, 0.0).sum(axis=1)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def find_cold(values: Samples, grid: Grid, from_s: float) -> tuple[ColdEvent, ...]:
    """Return the cold stretches of one temperature channel from ``from_s`` on, in order.

    Parameters
    ----------
    values : Samples
        Shape (n,), °C on the grid, NaN = lost.
    grid : Grid
        For rate and start.
    from_s : float
        Before it the sensor was not in the blood, s.

    Look-ahead: the end of the event, at most a few seconds after the temperature is back.
    """
    raw = binned(values, grid.rate_hz)
    step = max(1, round(STEP_S * grid.rate_hz)) / grid.rate_hz
    t: Samples = grid.start_s + (np.arange(raw.size, dtype=np.float64) + 0.5) * step
    good = np.isfinite(raw)
    if good.sum() < 50:
        return ()
    temp: Samples = np.asarray(np.interp(t, t[good], raw[good]), dtype=np.float64)
    noise = float(1.4826 * np.median(np.abs(np.diff(temp)))) / np.sqrt(2.0)
    least = max(DROP_C, NOISES * noise)
    events: list[ColdEvent] = []
    base_n = round(BASE_S / step)
    ahead = round(1.0 / step)
    fall = np.zeros(temp.size)
    fall[:-ahead] = temp[:-ahead] - temp[ahead:]
    # An onset: the fall within the next second is large against both noise and what went before.
    k = max(int((from_s - grid.start_s) / step), 1)
    while k < temp.size - ahead:
        if fall[k] < least / ONSET_SHARE:
            k += 1
            continue
        before = temp[max(0, k - base_n) : k + 1]
        base = float(np.percentile(before, 80)) if before.size > 5 else float(temp[k])
        if base - temp[k] > 0.5 * max(base - temp[k + ahead], 1e-9) and base - temp[k] > least:
            k += 1  # still in the wake of the last event: only a new, deeper fall counts
            if base - temp[min(k + ahead, temp.size - 1)] < 1.2 * (base - temp[k - 1]):
                continue
        event = _event(temp, t, k, base, least, step)
        if event is None:
            k += 1
            continue
        if events and event.brief and event.start_s - events[-1].start_s < TWIN_S:
            events = [*events[:-1], *(e for e in events[-1:] if not e.brief)]  # seen again, nearer
        events.append(event)
        k = max(k + ahead, int((event.start_s - grid.start_s) / step) + _skip(event, step))
    return tuple(events)


def _skip(event: ColdEvent, step: float) -> int:
    """Return how many steps to pass over: no second bolus can follow sooner.

    A long event is passed over only until its level is the new base: a bolus may lie within it.
    """
    return round((TWIN_S if event.brief else FAST_S) / step)


def _event(
    temp: Samples, t: Samples, k: int, base: float, least: float, step: float
) -> ColdEvent | None:
    reach = temp[k : k + round(FAST_S / step) + 1]
    depth = base - float(reach.min())
    if depth < least:
        return None
    low = k + int(np.argmin(reach))
    wait = round(BACK_S / step)
    later = temp[low : low + wait + 1]
    brief = bool(later.size > 0 and base - later.max() < BACK_SHARE * depth)
    if not brief and depth < 4 * least and later.size < wait:
        return None
    onset, fall = _onset(temp, k, low)
    half = base - temp[k:] > 0.5 * depth
    stop = int(np.argmin(half[low - k :])) + low - k if not half[low - k :].all() else half.size - 1
    start_half = int(np.argmax(half))
    width = (stop - start_half) * step
    brief = brief and width < BRIEF_S
    end = min(k + stop + (round(3.0 / step) if brief else 0), temp.size - 1)
    return ColdEvent(
        start_s=float(t[onset] + fall * step), end_s=float(t[end]), depth_c=depth, width_s=width,
        brief=brief,
    )  # fmt: skip


def _onset(temp: Samples, k: int, low: int) -> tuple[int, float]:
    """Return the last step before the fall and the part of a step behind it, 0..1.

    The fall is reckoned from the warmest point just before its steepest part, so that the wake of
    an earlier bolus does not carry the onset back to that bolus.
    """
    part = temp[k : low + 1]
    if part.size < 2:
        return k, 0.0
    steep = int(np.argmin(np.diff(part)))
    top = int(steep - np.argmax(part[steep::-1]))
    level = float(part[top]) - ONSET_DEPTH * float(part[top] - part[-1])
    above = np.flatnonzero(part[: steep + 1] >= level)
    at = int(above[-1]) if above.size else steep
    drop = float(part[at] - part[min(at + 1, part.size - 1)])
    return k + at, float(np.clip((part[at] - level) / drop, 0.0, 1.0)) if drop > 0.0 else 0.0
