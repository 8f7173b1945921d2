"""From episodes, gauges and curves to the evidence that indices rest on."""

from collections.abc import Mapping, Sequence

import numpy as np

from arteriole.episodes import Episode, Gauge, GaugeReading, PullbackTrace, Stretch
from arteriole.episodes.hyperaemia_line import steady_stretches
from arteriole.episodes.pullback_profile import gradient_index
from arteriole.episodes.trend import MEDIAN_BEATS
from arteriole.indices import (
    Evidence,
    FlowEvidence,
    InjectionEvidence,
    Offset,
    Pressures,
    PullbackEvidence,
    Step,
    Unrest,
    Withheld,
    pressures_of,
)
from arteriole.quality.ectopy import AF_CODE
from arteriole.recording import Settings, Sheet
from arteriole.signal.beats import Flags
from arteriole.study.gauges import Windows, windows_within
from arteriole.study.measure import Measurement
from arteriole.study.result import Injection
from arteriole.thermo.passage import beat_factor

#: Where the range cuts nearly every beat; decision 0101.
ALL_CUT = Withheld(
    reason="The channel's range cuts nearly every beat of Pa or Pd, so no mean of them is known.",
    do="Widen the channel's range and record again.",
)
LEAST_DROP_SDS = 3.0  # of the drop's own doubt; our choice, decision 0026
#: Harms that swing about the true pressure and leave the means over part of a beat; 0025.
MEANS_STAND = frozenset({"pa_ringing", "wire_whip"})
#: Why something is missing from this recording, by the names of ``Evidence.refusals``, and what
#: to do about it.
REFUSALS = {
    name: Withheld(reason=reason, do=do)
    for name, reason, do in (
        ("rest", "No stretch of proven rest was found.",
         "Mark the rest on the sheet, or record one before the drug."),
        ("hyperaemia", "No steady hyperaemia was found.",
         "Mark the steady stretch, or record one."),
        ("drift", "The sensors were not compared at the guide tip at the end.",
         "Draw back to the guide tip and record ten seconds, or mark the stretch."),
        ("pullback", "No pullback was found.", "Mark it if there was one."),
    )
}  # fmt: skip
CUT = dict.fromkeys(REFUSALS, ALL_CUT)


def clean_flags(measurement: Measurement, unusable: Sequence[Episode]) -> Flags:
    """Return which beats may be used, shape (beats,): clean and not called unusable."""
    clean = measurement.quality.clean.copy()
    for bad in unusable:
        beats = measurement.beats
        clean &= ~((beats.end_s > bad.start_s) & (beats.start_s < bad.end_s))
    return clean


def pressures_in(measurement: Measurement, clean: Flags, windows: Windows) -> Pressures | None:
    """Return the means over the clean beats of the stretches, shapes only where they are sound."""
    quality = measurement.quality
    means_stand = np.array([c in MEANS_STAND for c in quality.cause], dtype=bool)
    return pressures_of(
        measurement.beats, measurement.beats.within(windows) & clean,
        shaped=quality.shape_ok, windowed=quality.shape_ok | means_stand,
    )  # fmt: skip


def lowest_smoothed_in(
    measurement: Measurement,
    states: Sequence[Stretch],
    boluses_s: Sequence[float],
    unusable: Sequence[Episode],
    place_s: tuple[float, float] = (-np.inf, np.inf),
    otherwise: Windows = (),
) -> float | None:
    """Return the lowest smoothed Pd/Pa under the drug, or None where too few beats show it.

    It is looked for from the first effect on, also before hyperaemia was steady: there lay the
    lowest ratio in 19 of 104 recordings [EarlyMinimum2014]. Injections and their wake are left out,
    and what lies outside ``place_s``, the time at the place where hyperaemia is read. Where no
    second counts as under the drug, ``otherwise`` is read, as the other readings are.
    """
    windows = tuple(
        w for s in states if s.state != "not reached"
        for w in steady_stretches(s.start_s, s.end_s, boluses_s)
    )  # fmt: skip
    part = measurement.found.trend.within(windows_within(windows or otherwise, place_s))
    kept = np.ones(part.time_s.size, dtype=bool)
    for bad in unusable:
        kept &= (part.time_s < bad.start_s) | (part.time_s >= bad.end_s)
    return float(part.level[kept].min()) if int(kept.sum()) >= MEDIAN_BEATS else None


def offset_of(got: GaugeReading) -> Offset:
    """Return a gauge reading as evidence."""
    if got.offset_mmhg is None or got.start_s is None or got.end_s is None:
        return Offset()
    return Offset(
        state=got.state, offset_mmhg=got.offset_mmhg, sd_mmhg=got.offset_sd_mmhg or 0.0,
        time_s=(got.start_s + got.end_s) / 2.0,
    )  # fmt: skip


def pullback_of(trace: PullbackTrace | None) -> PullbackEvidence | None:
    """Return the pullback's numbers."""
    if trace is None:
        return None
    ratio = np.asarray(trace.ratio)
    drop = float(ratio[0] - ratio[-1])
    # a drop that may be nothing has no shape
    known = trace.place_unit == "mm" and drop > LEAST_DROP_SDS * trace.drop_sd
    index, largest, sick = gradient_index(np.asarray(trace.place), ratio)
    return PullbackEvidence(
        state=trace.state, drop=drop, drop_sd=trace.drop_sd, start_s=trace.start_s,
        end_s=trace.end_s, gradient_index=index if known else None,
        gradient_index_sd=trace.gradient_index_sd if known else None,
        max_drop_20mm=largest if known else None, diseased_share=sick if known else None,
        drop_beyond=trace.drop_beyond, place_known=trace.place_unit == "mm",
        pace_agrees=not trace.apart,
    )  # fmt: skip


def beat_factor_of(one: Injection, sheet: Sheet) -> float:
    """Return what brings the passage of the cold to a steady flow; needs the lag on the sheet."""
    read, lag = one.reading, sheet.sensor_lag_s
    if lag is None or read.zero_s is None or one.tmn_s is None:
        return 1.0
    return beat_factor(
        read.passage, read.course, entered_s=read.zero_s + read.features.get("cold_late_s", 0.0),
        left_s=read.zero_s + one.tmn_s - lag,
        right_artery=sheet.right_artery,
    )  # fmt: skip


def evidence_of(
    measurement: Measurement,
    sheet: Sheet,
    settings: Settings,
    row: Sequence[Injection],
    rest: Pressures | None,
    plateau: Pressures | None,
    steady: Windows,
    clean: Flags,
    gauge: Gauge,
    flows: tuple[FlowEvidence, ...],
    no_flow: Mapping[str, Withheld],
    pullback: PullbackTrace | None,
    pa_zero_mmhg: float | None,
    lowest_smoothed: float | None,
    *,
    uneven_sd: float = 0.0,
    not_full: bool = False,
    unrest: Unrest | None = None,
) -> Evidence:
    """Return everything the indices may ask."""  # fmt: skip
    there = {
        "rest": rest is not None, "hyperaemia": plateau is not None,
        "drift": gauge.drift.offset_mmhg is not None, "pullback": pullback is not None,
    }  # fmt: skip
    why_not = CUT if measurement.found.trend.cut else REFUSALS
    refusals = {name: why for name, why in why_not.items() if not there[name]} | dict(no_flow)
    return Evidence(
        sheet=sheet, settings=settings, beats=measurement.beats, clean=clean, rest=rest,
        steady_s=steady, plateau=plateau,
        injections=tuple(
            InjectionEvidence(
                label=i.label, phase=i.phase, time_s=i.time_s, tmn_s=i.tmn_s,
                tmn_onset_s=i.reading.tmn_onset_s, sd_s=dict(i.reading.sd_s),
                cold_late_s=i.reading.features.get("cold_late_s", 0.0),
                cold_late_sd_s=i.reading.features.get("cold_late_sd_s", 0.0),
                beat_factor=beat_factor_of(i, sheet),
                pa_before_mmhg=i.pa_before_mmhg, pd_before_mmhg=i.pd_before_mmhg,
                verdict=i.verdict,
            )
            for i in row
        ),
        equalisation=offset_of(gauge.equalisation), drift=offset_of(gauge.drift),
        step=None if gauge.step is None else Step(
            time_s=gauge.step.time_s, size_mmhg=gauge.step.size_mmhg,
            sd_mmhg=gauge.step.size_sd_mmhg,
        ),
        flows=flows,
        pullback=pullback_of(pullback), refusals=refusals, pa_zero_mmhg=pa_zero_mmhg,
        zero_moved_s=None if measurement.tip is None else measurement.tip.late_s,
        lowest_smoothed=lowest_smoothed, uneven_sd=uneven_sd, not_full=not_full,
        irregular=any(f.code == AF_CODE for f in measurement.findings),
        unrest=unrest,
    )  # fmt: skip
