"""Measure: all that samples say, without sheet or marks. The slow half, cached by hash."""

from dataclasses import dataclass, field, replace

from arteriole.episodes import FoundEpisodes, find_episodes
from arteriole.episodes.boluses import phases_by_transit
from arteriole.quality import Quality, grade
from arteriole.recording import Finding, Recording, Settings
from arteriole.signal import Beats, Grid, align, find_beats
from arteriole.thermo import BolusReading, read_bolus
from arteriole.thermo.passage import beat_course
from arteriole.thermo.tip import TipOffset, at_the_tip, tip_offset


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurement:
    """What was measured; ``readings`` is parallel to ``found.injections_s``."""

    recording: Recording
    grid: Grid
    beats: Beats
    quality: Quality
    found: FoundEpisodes
    readings: tuple[BolusReading, ...]
    tip: TipOffset | None = None  # by how much the shaft's time zero was moved
    findings: tuple[Finding, ...] = field(default_factory=tuple)


def measure(recording: Recording, settings: Settings) -> Measurement:
    """Return everything that can be read from the samples alone.

    Raises
    ------
    UnreadableRecording
        No aortic pressure: nothing can be placed in time.
    """
    grid = align(recording)
    beats = find_beats(grid)
    quality = grade(grid, beats)
    found = find_episodes(grid, beats, quality, settings)
    times = found.injections_s
    readings = tuple(
        read_injection(grid, beats, t, times[k + 1] if k + 1 < len(times) else None, settings)
        for k, t in enumerate(times)
    )
    tip = tip_offset(readings)
    readings = tuple(at_the_tip(r, tip) for r in readings)
    phases = phases_by_transit(found.phases, times, [r.tmn_s for r in readings])
    return Measurement(
        recording=recording, grid=grid, beats=beats, quality=quality,
        found=replace(found, phases=phases),
        readings=readings, tip=tip, findings=(*recording.findings, *quality.findings),
    )  # fmt: skip


def read_injection(
    grid: Grid, beats: Beats, time_s: float, next_s: float | None, settings: Settings
) -> BolusReading:
    """Return the reading of the injection near ``time_s``; the next one cuts the curve."""
    if grid.temp_c is None:
        return BolusReading(
            time_s=time_s, end_s=time_s, zero_s=None, time_zero="arrival", tmn_s=None,
            tmn_onset_s=None, faults=("lost",),
        )  # fmt: skip
    read = read_bolus(
        temp_c=grid.temp_c, shaft_c=grid.shaft_c, pa_mmhg=grid.pa_mmhg, pd_mmhg=grid.pd_mmhg,
        rate_hz=grid.rate_hz, start_s=grid.start_s, injection_s=time_s, next_injection_s=next_s,
        settings=settings,
    )  # fmt: skip
    if read.passage is None:
        return read
    return replace(read, course=beat_course(grid, beats, read.time_s, read.passage))
