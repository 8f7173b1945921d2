"""What the study says of the gauges and of hyperaemia, with the effective episodes."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from arteriole.episodes import Episode, Gauge, GaugeReading, Hyperaemia, Sign, Stretch, states_of
from arteriole.episodes.gauge_check import reading
from arteriole.episodes.gauge_setting import SETTLE_S
from arteriole.episodes.gauge_step import step_of
from arteriole.episodes.hyperaemia_line import (
    AFTER_BOLUS_S,
    Shapes,
    rise_of,
    signs_of,
    signs_of_doubt,
    steady_stretches,
    summed_up,
)
from arteriole.episodes.pullback import drawn_episodes, find_pullback, places_of
from arteriole.indices.bound import SHORTER
from arteriole.recording import Settings, Sheet
from arteriole.signal.delay import delayed
from arteriole.study.measure import Measurement
from arteriole.study.repeats import read_one
from arteriole.study.result import Injection

Windows = tuple[tuple[float, float], ...]
CHANGE_S = 4.0  # after the last injection's curve the ratio is the vessel's again; decision 0026
LEAST_AT_PLACE_S = 10.0  # two runs of five beats: less is not read before a slip; decision 0094
SLIP_S = 1.5  # the beat in which it happens belongs to neither side; decision 0094
#: After the arrival the last hundredths of the effect still come: so long, s, but no more than
#: this share of a short plateau; decision 0036.
SETTLED_S, SETTLED_SHARE = 10.0, 0.25
#: About Pa's notch, s: Pd's dip lies near it, and its rise is over before the next upstroke.
NOTCH_S = (0.06, 0.14)
FEWEST_NOTCHES = 3


def gauge_of(measurement: Measurement, episodes: Sequence[Episode], settings: Settings) -> Gauge:
    """Return both gauge checks over the effective stretches, and the step between them."""

    def check(kind: str, skip_s: float) -> GaugeReading:
        stretch = read_one(episodes, kind)
        if stretch is None:
            return GaugeReading()
        start = stretch.start_s + (skip_s if stretch.source == "found" else 0.0)
        return reading(measurement.beats, measurement.quality, start, stretch.end_s, settings)

    both = Gauge(equalisation=check("equalisation", SETTLE_S), drift=check("drift_check", 0.0))
    drawn_s = next((e.start_s for e in episodes if e.kind == "pullback"), None)
    placed = [e.start_s for e in episodes if e.kind in {"rest", "injection", "infusion"}]
    if not placed:
        return both
    step = step_of(measurement.beats, measurement.quality, both, min(placed), drawn_s)
    return replace(both, step=step)


def drift_of(gauge: Gauge) -> tuple[float, float]:
    """Return how far the gauges moved between both checks, mmHg and mmHg/s, a step left out.

    Nothing where a check is missing.
    """
    first, last = gauge.equalisation, gauge.drift
    if None in {first.offset_mmhg, last.offset_mmhg, first.end_s, last.start_s}:
        return 0.0, 0.0
    assert first.offset_mmhg is not None and last.offset_mmhg is not None  # noqa: PT018
    assert first.end_s is not None and last.start_s is not None  # noqa: PT018
    moved = last.offset_mmhg - first.offset_mmhg
    if gauge.step is not None:
        moved -= gauge.step.size_mmhg
    return moved, moved / max(last.start_s - first.end_s, 1.0)


def with_told_pullback(
    measurement: Measurement, episodes: tuple[Episode, ...], sheet: Sheet
) -> tuple[Episode, ...]:
    """Return the episodes with a pullback that the sheet tells of and the pressures hardly show.

    Where the pressures do not part, or the gauge has stepped, the climb alone proves nothing; a
    length that was written down does. Decision 0026.
    """
    told = sheet.pullback.length_mm is not None
    acts = [e for e in episodes if e.kind in {"injection", "infusion"}]
    if not told or not acts or any(e.kind in {"pullback", "drift_check"} for e in episodes):
        return episodes
    guide = next(((e.start_s, e.end_s) for e in episodes if e.kind == "equalisation"), None)
    drawn = find_pullback(
        measurement.grid, measurement.beats, measurement.quality, measurement.found.trend,
        max(e.end_s for e in acts) + CHANGE_S, None, told=True,
        places_s=places_of(guide, min(e.start_s for e in acts)),
    )  # fmt: skip
    if drawn is None:
        return episodes
    hyper = any(e.kind == "hyperaemia" for e in episodes)
    rows = [replace(e, end_s=min(e.end_s, drawn.start_s)) if e.kind == "hyperaemia" else e
            for e in episodes]  # fmt: skip
    rows += drawn_episodes(drawn, "hyperaemia" if hyper else "rest")
    return tuple(sorted(rows, key=lambda e: (e.start_s, e.end_s, e.kind)))


def line_of(measurement: Measurement, episodes: Sequence[Episode]) -> tuple[Stretch, ...]:
    """Return the steadiness line: found, or one steady stretch where a person marked it."""
    marked = [e for e in episodes if e.kind == "hyperaemia" and e.source == "marked"]
    if marked:
        return tuple(Stretch(start_s=e.start_s, end_s=e.end_s, state="steady") for e in marked)
    shorter = transit_ratio(measurement)
    states = states_of(measurement.found, proven=shorter is not None and shorter >= SHORTER)
    drawn = next((e for e in episodes if e.kind == "pullback"), None)
    if drawn is None:
        return states
    return tuple(
        Stretch(start_s=s.start_s, end_s=min(s.end_s, drawn.start_s), state=s.state)
        for s in states
        if s.start_s < drawn.start_s
    )


def transit_ratio(measurement: Measurement) -> float | None:
    """Return resting over hyperaemic Tmn, medians of all that could be read, or None."""
    found = measurement.found
    middles = []
    for phase in ("rest", "hyperaemia"):
        times = [
            r.tmn_s for r, p in zip(measurement.readings, found.phases, strict=True)
            if p == phase and r.tmn_s is not None
        ]  # fmt: skip
        if not times:
            return None
        middles.append(float(np.median(times)))
    return middles[0] / middles[1]


def guide_times(measurement: Measurement) -> tuple[float, ...]:
    """Return from when wakes count where no cold tells the injections, s.

    Each stretch in which Pa was taken away counts from its start to its end as a bolus, for what
    went through the guide then is not known. Decision 0099.
    """
    found = measurement.found
    if found.cold_tells:
        return ()
    return tuple(float(t) for a, b in found.guide_s for t in (*np.arange(a, b, AFTER_BOLUS_S), b))


def steady_windows(
    measurement: Measurement, states: Sequence[Stretch], boluses_s: Sequence[float],
    unusable: Sequence[Episode], *, marked: bool,
) -> Windows:  # fmt: skip
    """Return the steady stretches free of injections and of what a person called unusable.

    Hyperaemia that arrived but was not full has no steady stretch: there what follows its arrival
    is read, and the study says that it was not full.
    """
    rows: list[tuple[float, float]] = []
    seen = measurement.found.hyperaemia
    used = [(s.start_s, s.end_s) for s in states if s.state == "steady"]
    if not used and states and seen is not None and seen.doubt.verdict == "submaximal":
        used = [(seen.arrived_s, min(seen.end_s, states[-1].end_s))]
    for k, (start, end) in enumerate(used):
        settles = 0.0 if k or marked else min(SETTLED_S, SETTLED_SHARE * (end - start))
        rows += steady_stretches(start + settles, end, boluses_s)
    for bad in unusable:
        rows = [
            piece
            for a, b in rows
            for piece in ((a, min(b, bad.start_s)), (max(a, bad.end_s), b))
            if piece[1] - piece[0] > 1.0
        ]
    return tuple(rows)


def place_held(windows_s: Windows, moved_s: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return from when to when the wire lay at the place where hyperaemia is read, s.

    Slips of the wire, each given as from when to when it happened, part the time. The first part
    that holds ``LEAST_AT_PLACE_S`` of the windows is taken, for there the injections before the
    slip were read too; else the one that holds most of them.
    """
    slips = sorted(moved_s)
    parts = list(zip(
        (-np.inf, *(end for _, end in slips)), (*(start - SLIP_S for start, _ in slips), np.inf),
        strict=True,
    ))  # fmt: skip
    held = [sum(b - a for a, b in windows_within(windows_s, part)) for part in parts]
    enough = [k for k, s in enumerate(held) if s >= LEAST_AT_PLACE_S]
    return parts[enough[0] if enough else int(np.argmax(held))] if max(held) else (-np.inf, np.inf)


def windows_within(windows_s: Windows, bounds_s: tuple[float, float]) -> Windows:
    """Return what of the windows lies between two times."""
    low, high = bounds_s
    return tuple((max(a, low), min(b, high)) for a, b in windows_s if min(b, high) > max(a, low))


def hyperaemia_of(
    measurement: Measurement,
    states: tuple[Stretch, ...],
    windows: Windows,
    rest: tuple[float, float] | None,
    *,
    marked: bool,
) -> Hyperaemia | None:
    """Return the hyperaemia with its signs, or None where no sign of any was looked for."""
    if not states:
        return None
    trend = measurement.found.trend
    plateau = trend.within(windows)
    resting = trend.between(*rest) if rest is not None else None
    signs: tuple[Sign, ...] = ()
    if resting is not None and resting.time_s.size >= 5 and plateau.time_s.size >= 5:
        assert rest is not None
        signs = signs_of(
            resting, plateau, _shape(measurement, (rest,)), _shape(measurement, windows)
        )
    seen = measurement.found.hyperaemia
    if marked or seen is None:
        return summed_up(states, plateau, signs, None)
    return summed_up(states, plateau, (*signs, *signs_of_doubt(seen.doubt)), seen.doubt)


def uneven_sd(seen: Hyperaemia) -> float:
    """Return the doubt that hyperaemia which was not even adds to every reading of Pd/Pa.

    Another stretch of the same plateau would have read elsewhere in its swing: a quarter of the
    95 % range of Pd/Pa is taken as one standard deviation more. Decisions 0037, 0095.
    """
    uneven = seen.unsteady or seen.submaximal
    return seen.range_ratio / 4.0 if uneven and seen.range_ratio is not None else 0.0


def with_transit(seen: Hyperaemia | None, row: Sequence[Injection]) -> Hyperaemia | None:
    """Return the hyperaemia with the sign that needs no narrowing: transit times got shorter."""
    if seen is None:
        return None
    times = {
        phase: [i.tmn_s for i in row if i.phase == phase and i.tmn_s is not None
                and i.verdict in {"usable", "look again"}]
        for phase in ("rest", "hyperaemia")
    }  # fmt: skip
    if not times["rest"] or not times["hyperaemia"]:
        return seen
    ratio = float(np.mean(times["rest"]) / np.mean(times["hyperaemia"]))
    sign = Sign(name="transit time shorter", present=ratio >= SHORTER, value=ratio, unit="1")
    return replace(seen, signs=(*seen.signs, sign))


def _shape(measurement: Measurement, windows: Windows) -> Shapes:
    """Return pulse and notch of Pd: how far the mean wave rises again after its own dip, mmHg.

    Beats are laid over each other at Pa's notch, Pd as late as Pa, so that noise and breathing
    average out. A wave that only falls has no notch, however steep. Decision 0095.
    """
    beats, grid = measurement.beats, measurement.grid
    used = beats.within(windows) & measurement.quality.clean & (beats.notch_i > 0)
    before, after = (round(s * grid.rate_hz) for s in NOTCH_S)
    used &= (beats.notch_i >= before) & (beats.notch_i + after < beats.end_i)
    late_pd = delayed(grid.pd_mmhg, beats.delay_s, grid.rate_hz)
    rows = late_pd[beats.notch_i[used, None] + np.arange(-before, after)]
    rows = rows[np.isfinite(rows).all(axis=1)]
    if rows.shape[0] < FEWEST_NOTCHES:
        return Shapes(pulse_mmhg=1.0, notch_mmhg=None)
    pulse = float(np.median((beats.pd_systolic_mmhg - beats.pd_diastolic_mmhg)[used]))
    return Shapes(pulse_mmhg=pulse, notch_mmhg=rise_of(rows.mean(axis=0)))
