"""Every cold bolus through the guide: flushes, priming, and the row of injections."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from arteriole.episodes.cold import ColdEvent, find_cold
from arteriole.recording.channel import Samples
from arteriole.signal import Grid
from arteriole.signal.graded import Quality

SAME_S = 3.0  # a fall on the shaft and one on the distal sensor this near are one bolus
ROW_GAP_S = 45.0  # injections of one state follow each other sooner than this; decision 0041
FLUSH_PA_S = 3.0  # a flush takes the aortic pulse away for longer than an injection
FLUSHES_TOGETHER = 2  # one at the guide, one after the wire is in place
FLUSH_WIDTH_S = 1.5  # and is wider on the distal sensor
#: A fall this small against the deepest bolus is flow that pulses in an infusion; decision 0012.
LEAST_OF_DEEPEST = 0.1
SHORTER_SHARE = 0.78  # of the resting transit time; decision 0012
ONE_PUSH_S = 2.0  # parts of one disturbance of Pa lie no further apart; our choice, decision 0099
IN_INFUSION_S = 2.0  # either end of an infusion; our choice, decision 0102
LOST_FALL = 0.6  # of the second of a fall: it was bridged, not seen; our choice, decision 0055
LOST_SHARE = 0.3  # of the distal temperature around a fall of the shaft: it cannot confirm it


@dataclass(frozen=True, slots=True, kw_only=True)
class Boluses:
    """Starts of the injections, s, in order; flushes as (start, end), s."""

    injections_s: tuple[float, ...]
    flushes_s: tuple[tuple[float, float], ...]


def find_boluses(
    events: Sequence[ColdEvent], quality: Quality, placed_s: float,
    infusions: Sequence[tuple[float, float]] = (),
) -> Boluses:  # fmt: skip
    """Return injections and flushes among the events of :func:`cold_boluses`.

    ``placed_s``: before it the sensor is still at the guide tip, so a bolus can only be a flush.
    One or two boluses well before the first row, as long as flushes, flush; a single brief one
    before a longer row primes, and so do one or two before an infusion. What falls during one of
    the ``infusions``, (start, end) s, is its own. Look-ahead: ``ROW_GAP_S`` after a bolus.
    """
    events = [e for e in events if not any(
        a - IN_INFUSION_S < e.start_s < b + IN_INFUSION_S for a, b in infusions)]  # fmt: skip
    flushes: list[tuple[float, float]] = []
    row: list[ColdEvent] = []
    for event in events:
        (flushes.append((event.start_s, event.end_s)) if event.start_s < placed_s
         else row.append(event))  # fmt: skip
    kept: list[float] = []
    usual = float(np.median([e.width_s for e in row])) if len(row) > 4 else FLUSH_WIDTH_S
    groups = _groups(row)
    for k, group in enumerate(groups):
        long = [
            _pa_away_s(quality, e.start_s) > FLUSH_PA_S
            or e.width_s > max(FLUSH_WIDTH_S, 1.4 * usual)
            for e in group
        ]
        larger_follows = k + 1 < len(groups) and len(groups[k + 1]) > len(group)
        before_row = not kept and len(group) <= FLUSHES_TOGETHER and k + 1 < len(groups)
        single = larger_follows and len(group) == 1  # primes the catheter
        apart = larger_follows and any(
            group[-1].start_s < a < groups[k + 1][0].start_s for a, _ in infusions
        )
        if before_row and (single or apart or all(long)):
            flushes += [(e.start_s, e.end_s) for e in group]
        else:
            kept += [e.start_s for e in group]
    flushes += _dry_flushes(quality, [e.start_s for e in events], placed_s)
    return Boluses(injections_s=tuple(kept), flushes_s=tuple(sorted(flushes)))


def phases_by_transit(
    phases: Sequence[str], times_s: Sequence[float], tmn_s: Sequence[float | None]
) -> tuple[str, ...]:
    """Return the phases, split where they were one and the transit got shorter for good.

    In an open vessel, or with a gauge that stepped meanwhile, Pd/Pa does not show the drug; across
    a pause of ``ROW_GAP_S`` or more in which the median transit falls to ``SHORTER_SHARE`` or
    less, what follows is hyperaemia. At least two injections were read on either side.
    """
    if len(set(phases)) != 1 or phases[0] != "rest":
        return tuple(phases)
    best, share = None, SHORTER_SHARE
    for k in range(1, len(times_s)):
        before = [t for t in tmn_s[:k] if t is not None]
        after = [t for t in tmn_s[k:] if t is not None]
        if times_s[k] - times_s[k - 1] < ROW_GAP_S or min(len(before), len(after)) < 2:
            continue
        fell = float(np.median(after) / np.median(before))
        if fell <= share:
            best, share = k, fell
    if best is None:
        return tuple(phases)
    return ("rest",) * best + ("hyperaemia",) * (len(times_s) - best)


def _groups(row: Sequence[ColdEvent]) -> list[list[ColdEvent]]:
    groups: list[list[ColdEvent]] = []
    for event in row:
        if groups and event.start_s - groups[-1][-1].start_s <= ROW_GAP_S:
            groups[-1].append(event)
        else:
            groups.append([event])
    return groups


def cold_boluses(grid: Grid, from_s: float) -> list[ColdEvent]:
    """Return brief falls: of the shaft where the distal sensor agrees or was lost, else distal.

    ``from_s``: from when the sensor is in blood, s.
    """
    distal = _brief(grid.temp_c, grid, from_s)
    if grid.shaft_c is None or np.isfinite(grid.shaft_c).sum() < grid.rate_hz:
        return distal
    shaft = _brief(grid.shaft_c, grid, from_s)
    if not shaft:
        return distal
    if grid.temp_c is None:
        return shaft
    return [
        e for e in shaft
        if any(abs(d.start_s - e.start_s) < SAME_S for d in distal) or _lost(grid, e.start_s)
    ]  # fmt: skip


def _brief(values: Samples | None, grid: Grid, from_s: float) -> list[ColdEvent]:
    if values is None:
        return []
    found: list[ColdEvent] = []
    for event in (e for e in find_cold(values, grid, from_s) if e.brief):
        again = bool(found) and event.start_s < found[-1].end_s
        if not (again and _fell_unseen(values, grid, event.start_s)):
            found.append(event)
    least = LEAST_OF_DEEPEST * max((e.depth_c for e in found), default=0.0)
    return [e for e in found if e.depth_c >= least]


def _fell_unseen(values: Samples, grid: Grid, at_s: float) -> bool:
    """Return whether the second in which an event falls was lost: it may be the one before."""
    a = int((at_s - grid.start_s) * grid.rate_hz)
    part = values[max(a, 0) : a + int(grid.rate_hz)]
    return bool(part.size and np.isnan(part).mean() > LOST_FALL)


def _lost(grid: Grid, at_s: float) -> bool:
    assert grid.temp_c is not None
    a = int((at_s - grid.start_s) * grid.rate_hz)
    part = grid.temp_c[max(a, 0) : a + int(SAME_S * grid.rate_hz)]
    return bool(part.size and np.isnan(part).mean() > LOST_SHARE)


def _pa_away_s(quality: Quality, at_s: float) -> float:
    return max(
        (s.end_s - s.start_s for s in quality.spans
         if s.channel == "pa" and s.code in {"pa_disturbed", "lost"}
         and s.start_s - 2.0 < at_s < s.end_s + 2.0),
        default=0.0,
    )  # fmt: skip


def _dry_flushes(
    quality: Quality, seen_s: Sequence[float], placed_s: float
) -> list[tuple[float, float]]:
    """Return stretches without aortic pulse that left no cold trace, before the row begins."""
    return [
        (s.start_s, s.end_s)
        for s in quality.spans
        if s.code == "pa_disturbed" and s.end_s - s.start_s > FLUSH_PA_S
        and s.start_s < placed_s and not any(s.start_s - 3 < x < s.end_s + 3 for x in seen_s)
    ]  # fmt: skip


def through_the_guide(
    quality: Quality, events: Sequence[ColdEvent], from_s: float, *, cold_tells: bool
) -> tuple[tuple[float, float], ...]:
    """Return the stretches in which Pa alone shows that something went through the guide, s.

    Where cold tells the boluses, these are stretches without aortic pulse, as long as a flush, that
    left no cold trace: contrast at body temperature. Where nothing tells (no temperature was
    recorded) each stretch in which Pa is taken away counts, an injection as well as a flush.
    """
    seen = [e.start_s for e in events]
    rows: list[tuple[float, float]] = []
    for s in sorted((s for s in quality.spans if s.code == "pa_disturbed"),
                    key=lambda s: s.start_s):  # fmt: skip
        if s.start_s < from_s:
            continue
        cold = any(s.start_s - 3 < x < s.end_s + 3 for x in seen)
        if cold_tells and (cold or s.end_s - s.start_s <= FLUSH_PA_S):
            continue
        if rows and s.start_s - rows[-1][1] < ONE_PUSH_S:
            rows[-1] = (rows[-1][0], max(s.end_s, rows[-1][1]))
        else:
            rows.append((s.start_s, s.end_s))
    return tuple(rows)
