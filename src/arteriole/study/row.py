"""The injection row: what was found and marked, read, graded and labelled."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

from arteriole.episodes import Episode, Stretch
from arteriole.recording import Finding, Mark, Settings, mark_id
from arteriole.study.marks import injection_marks
from arteriole.study.measure import Measurement, read_injection
from arteriole.study.result import Injection
from arteriole.thermo import BolusReading, grade_injections
from arteriole.thermo.tip import at_the_tip

BEFORE_S = 8.0  # whole clean beats this long before the injection give its pressures
LEAST_BEATS = 2
COVERAGE = 1.96

Phase = Literal["rest", "hyperaemia"]


def injection_row(
    measurement: Measurement,
    marks: Sequence[Mark],
    episodes: Sequence[Episode],
    states: Sequence[Stretch],
    settings: Settings,
    moved_s: Sequence[float],
    beside: frozenset[int],
) -> tuple[Injection, ...]:
    """Return the injections in time order with verdicts; a person's word stands above ours.

    ``beside``: found ones that stay under the drug though a mark leaves them, from
    :func:`beside_mark`.
    """
    found = measurement.found
    of_found, new = injection_marks(found.injections_s, marks)
    marked_phases = _marked_phases(episodes)
    rows: list[tuple[float, BolusReading, Phase, Mark | None]] = []
    for k, reading in enumerate(measurement.readings):
        time = found.injections_s[k]
        phase = _phase(time, found.phases[k], of_found.get(k), marked_phases)
        if k in beside and not _letter(of_found.get(k)):
            phase = "hyperaemia"
        rows.append((time, reading, phase, of_found.get(k)))
    for mark in new:
        time = float(mark.time_s or 0.0)
        later = [t for t in found.injections_s if t > time + 1.0]
        reading = read_injection(
            measurement.grid, measurement.beats, time, min(later, default=None), settings
        )
        reading = at_the_tip(reading, measurement.tip)
        guess = "hyperaemia" if any(s.start_s <= time <= s.end_s for s in states) else "rest"
        rows.append((time, reading, _phase(time, guess, mark, marked_phases), mark))
    rows.sort(key=lambda r: r[0])
    graded = grade_injections(
        [r[1] for r in rows], [r[2] for r in rows], settings, states or None,
        wire_moved_s=moved_s, other_boluses_s=[a for a, _ in found.flushes_s],
    )  # fmt: skip
    counts = {"rest": 0, "hyperaemia": 0}
    made: list[Injection] = []
    for (time, reading, phase, said_by), (verdict, reasons) in zip(rows, graded, strict=True):
        counts[phase] += 1
        label = f"{'R' if phase == 'rest' else 'H'}{counts[phase]}"
        said = verdict
        why = reasons
        if said_by is not None and said_by.verdict is not None:
            said = said_by.verdict
            word = f"marked: {said_by.verdict}" + (f", {said_by.why}" if said_by.why else "")
            why = (word, *reasons)
        pa, pd = pressures_before(measurement, time)
        made.append(
            Injection(
                id=mark_id("injection", time),
                label=said_by.label if said_by is not None and said_by.label else label,
                phase=phase, time_s=reading.time_s if reading.tmn_s is not None else time,
                tmn_s=reading.tmn_s, interval95_s=_interval(reading),
                time_zero=reading.time_zero, verdict=said, reasons=why,
                source="marked" if said_by is not None else "found", reading=reading,
                pa_before_mmhg=pa, pd_before_mmhg=pd,
                hyperaemia_state=next(
                    (s.state for s in states if s.start_s <= time < s.end_s), None
                ) if phase == "hyperaemia" else None,
            )
        )  # fmt: skip
    return tuple(made)


def _marked_phases(episodes: Sequence[Episode]) -> list[tuple[float, float, Phase]]:
    return [
        (e.start_s, e.end_s, "hyperaemia")
        for e in episodes
        if e.kind == "hyperaemia" and e.source == "marked"
    ]


def beside_mark(measurement: Measurement, episodes: Sequence[Episode]) -> frozenset[int]:
    """Return which found injections stay under the drug though a mark of hyperaemia leaves them.

    A mark that lies in the found hyperaemia may mean its plateau alone. What was injected between
    the found effect's beginning and the mark is at rest or under the drug by its transit time,
    whichever of the two it is nearer to; decision 0103.
    """
    found, marked = measurement.found, _marked_phases(episodes)
    seen = next((e for e in found.episodes if e.kind == "hyperaemia"), None)
    if seen is None or not any(a < seen.end_s and seen.start_s < b for a, b, _ in marked):
        return frozenset()
    inside = {k for k, t in enumerate(found.injections_s) if any(a <= t <= b for a, b, _ in marked)}
    hyper = {k for k, phase in enumerate(found.phases) if phase == "hyperaemia"}
    beside, rest = hyper - inside, set(range(len(found.phases))) - hyper - inside
    here, at_rest, drugged = (_log_tmn(measurement, group) for group in (beside, rest, inside))
    if here is not None and at_rest is not None and drugged is not None and (
        abs(here - at_rest) < abs(here - drugged)
    ):  # fmt: skip
        return frozenset()
    return frozenset(beside)


def beside_mark_told(beside: frozenset[int], row: Sequence[Injection]) -> tuple[Finding, ...]:
    """Return that injections outside a marked hyperaemia stay under the drug, and which."""
    found = [i for i in row if i.source == "found" and i.phase == "hyperaemia"]
    rows = [i for i in found if i.hyperaemia_state is None]
    if not beside or not rows:
        return ()
    return (Finding(
        code="injections_beside_mark", severity="caution", channel=None,
        start_s=rows[0].time_s, end_s=rows[-1].time_s,
        message=f"{', '.join(i.label for i in rows)}: outside the marked hyperaemia, but under the "
        "drug by the found effect and the transit times; they stay hyperaemic.",
        do="Mark hyperaemia from the drug's effect on, or label them R where they are at rest.",
    ),)  # fmt: skip


def _log_tmn(measurement: Measurement, group: set[int]) -> float | None:
    """Return the median log of the transit times of some injections, None where none was read."""
    times = [measurement.readings[k].tmn_s for k in group]
    known = [float(np.log(t)) for t in times if t is not None and t > 0.0]
    return float(np.median(known)) if known else None


def _letter(mark: Mark | None) -> str:
    """Return the state that a person's label names, R or H, empty where it names none."""
    letter = (mark.label or "")[:1].upper() if mark is not None else ""
    return letter if letter in {"R", "H"} else ""


def _phase(
    time: float, found: str, mark: Mark | None, marked: Sequence[tuple[float, float, Phase]]
) -> Phase:
    letter = _letter(mark)
    if letter:
        return "rest" if letter == "R" else "hyperaemia"
    if marked:
        return "hyperaemia" if any(a <= time <= b for a, b, _ in marked) else "rest"
    return "hyperaemia" if found == "hyperaemia" else "rest"


def _interval(reading: BolusReading) -> tuple[float, float] | None:
    if reading.tmn_s is None:
        return None
    sd = float(np.sqrt(sum(v * v for v in reading.sd_s.values())))
    return max(reading.tmn_s - COVERAGE * sd, 0.0), reading.tmn_s + COVERAGE * sd


def pressures_before(measurement: Measurement, time_s: float) -> tuple[float | None, float | None]:
    """Return mean Pa and Pd of the whole clean beats just before an injection, or None."""
    beats = measurement.beats
    used = beats.between(time_s - BEFORE_S, time_s - 0.2) & measurement.quality.clean
    used &= np.isfinite(beats.pa_mean_mmhg) & np.isfinite(beats.pd_mean_mmhg)
    if int(used.sum()) < LEAST_BEATS:
        return None, None
    weight = beats.length_s[used]
    return (
        float(np.average(beats.pa_mean_mmhg[used], weights=weight)),
        float(np.average(beats.pd_mean_mmhg[used], weights=weight)),
    )
