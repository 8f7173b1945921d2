"""Doses into the artery, read one by one where the sheet or the pressures show them.

The course of one long drug stays as it was found wherever nothing speaks for doses. Decision 0100.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from arteriole.episodes import Episode, FoundEpisodes, Hyperaemia, Stretch
from arteriole.episodes.hyperaemia_doses import (
    Dose,
    doses_of,
    find_falls,
    given_by,
    line_of_doses,
    phases_by_doses,
)
from arteriole.episodes.hyperaemia_doubt import Doubt
from arteriole.episodes.hyperaemia_plateau import Plateau
from arteriole.episodes.hyperaemia_seen import Seen
from arteriole.interpret.expected import route_of
from arteriole.recording import Finding, Sheet
from arteriole.recording.finding import Severity
from arteriole.study.measure import Measurement
from arteriole.study.result import Injection

INTO_ARTERY = "intracoronary"
WIRE_MOVES_S = 2.0  # the wire was drawn back this long before the waves agree; our choice
AFTER_INFUSION_S = 10.0  # its own effect on the ratio is over; common practice, no source
AROUND_BLOCKED_S = (2.0, 25.0)  # before and after a blocked ostium; decision 0091
FLANK_S = 3.0  # a step this near to a dose's own fall or rise is that fall; two or three beats
SHORT_OF_FULL = 1.0  # log odds that no second was steady: it cannot be told


@dataclass(frozen=True, slots=True, kw_only=True)
class Doses:
    """What the pressures show of doses: those read, and all falls that were seen.

    A fall that is not clear enough to read still acted: injections in it are not at rest.
    """

    read: tuple[Dose, ...] = ()
    falls: tuple[Dose, ...] = ()
    told: bool = False
    cold_s: tuple[float, ...] = ()  # boluses that were taken for doses

    def starts_s(self) -> tuple[float, ...]:
        """Return when each dose began to act, s."""
        return tuple(d.begun_s for d in self.read)


def with_doses(measurement: Measurement, sheet: Sheet) -> tuple[Measurement, Doses]:
    """Return the measurement with hyperaemia and phases by dose, and the doses.

    A route by vein, or no brief falls: the measurement as it came.
    """
    route = route_of(sheet)
    told = route == INTO_ARTERY
    rest = next((e for e in measurement.found.episodes if e.kind == "rest"), None)
    if rest is None or (route is not None and not told):
        return measurement, Doses(told=told)
    found = measurement.found
    drawn = next((e for e in found.episodes if e.kind == "pullback"), None)
    falls = _falls(measurement, rest, None if drawn is None else drawn.start_s)
    doses = _certain(measurement, falls, told=told)
    if drawn is not None:
        later = _falls(measurement, rest, _moved_s(measurement, drawn))
        whole = _certain(measurement, later, told=told)
        # a dose that ends by itself is no withdrawal, however alike the climb
        if any(d.begun_s < drawn.start_s < d.gone_s and d.back for d in whole):
            falls, doses, drawn = later, whole, None
    acted = tuple(f for f in falls if f in doses or (told and f.back))
    if not acted:
        return measurement, Doses(falls=falls, told=told)
    end_s = measurement.grid.end_s if drawn is None else drawn.start_s
    check = next((e.start_s for e in found.episodes if e.kind == "drift_check"), end_s)
    by = given_by(found.injections_s, doses)
    cold = tuple(t for t, dose in zip(found.injections_s, by, strict=True) if dose)
    measurement = _without(measurement, by)
    return (
        _read(measurement, doses, acted, min(end_s, check), keep_pullback=drawn is not None),
        Doses(read=doses, falls=falls, told=told, cold_s=cold),
    )


def explained(findings: Sequence[Finding], doses: Doses) -> tuple[Finding, ...]:
    """Return the findings without steps that are the quick fall or rise of a dose."""
    return tuple(
        f for f in findings
        if f.code != "ratio_step" or f.start_s is None
        or not any(d.moving(f.start_s, FLANK_S) for d in doses.read)
    )  # fmt: skip


def without_fading(seen: Hyperaemia, doses: Doses) -> Hyperaemia:
    """Return hyperaemia as it is judged: that a dose ends by itself is no unsteadiness."""
    if not doses.read:
        return seen
    return replace(seen, states=tuple(s for s in seen.states if s.state != "fading"))


def findings_of_doses(
    doses: Doses, seen: Hyperaemia, row: Sequence[Injection], sheet: Sheet
) -> tuple[Finding, ...]:
    """Return how many doses were seen and how long each stood, or that they were not read.

    Also what was injected after the drug's start and is called rest: never without a word.
    """
    return (*_said(doses, seen), *_after_start(doses, row, sheet.hyperaemia.start_s))


def _said(doses: Doses, seen: Hyperaemia) -> list[Finding]:
    if doses.read:
        return [_seen_doses(doses)]
    back = [f for f in doses.falls if f.back]
    if not doses.told or (seen.state == "steady" and not back):
        return []
    many = f"{len(back)} brief falls of Pd/Pa that come back" if back else "no fall that comes back"
    at = (doses.falls[0].begun_s, doses.falls[-1].gone_s) if doses.falls else (None, None)
    return [_finding(
        "hyperaemia_doses_unread", "caution", at,
        f"The sheet says the drug was given into the artery; the pressures show {many}, not clear "
        "enough to read dose by dose. They are not read as one course.",
        "Mark each steady stretch as hyperaemia.",
    )]  # fmt: skip


def _seen_doses(doses: Doses) -> Finding:
    read = doses.read
    held = _listed([f"{d.held_s:.0f}" for d in read])
    since = _listed([f"{d.steady_s:.0f}" for d in read])
    one = len(read) == 1
    told = (
        f"{len(read)} dose{'' if one else 's'} into the artery seen: Pd/Pa stood for {held} s, "
        f"from {since} s on."
    )
    if doses.cold_s:
        cold = _listed([f"{t:.0f}" for t in doses.cold_s])
        told += f" Cold at {cold} s is taken for the dose itself, not for an injection."
    at = (read[0].begun_s, read[-1].gone_s)
    if doses.told:
        return _finding(
            "hyperaemia_doses", "note", at,
            f"{told} Hyperaemia is read within {'it' if one else 'them'}.",
            "Compare with the steadiness line; mark the steady stretches if they lie elsewhere.",
        )  # fmt: skip
    return _finding(
        "hyperaemia_doses",
        "caution",
        at,
        f"{told} The sheet names no route; contrast through the guide looks alike and opens less.",
        "Write the route on the sheet; if it was contrast or a vein, mark hyperaemia.",
    )


def _after_start(doses: Doses, row: Sequence[Injection], start_s: float | None) -> list[Finding]:
    starts = [s for s in (start_s, *doses.starts_s()) if s is not None]
    late = [i for i in row if i.phase == "rest" and i.time_s > min(starts, default=np.inf)]
    if not late:
        return []
    return [_finding(
        "rest_after_drug", "caution", (late[0].time_s, late[-1].time_s),
        f"{_listed([i.label for i in late])}: given after the drug's start at {min(starts):.0f} s, "
        "while the pressures show no effect of it; counted as rest.",
        "Check when the drug was given; leave out or label H what was injected under it.",
    )]  # fmt: skip


def _falls(measurement: Measurement, rest: Episode, end_s: float | None) -> tuple[Dose, ...]:
    found = measurement.found
    before, after = AROUND_BLOCKED_S
    blocked = [
        (s.start_s - before, s.end_s + after)
        for s in measurement.quality.spans if s.code == "pa_ventricularised"
    ]  # fmt: skip
    away = [(e.start_s, e.end_s + AFTER_INFUSION_S) for e in found.episodes if e.kind == "infusion"]
    end_s = measurement.grid.end_s if end_s is None else end_s
    return find_falls(found.trend, (rest.start_s, rest.end_s), end_s, blocked, away)


def _certain(measurement: Measurement, falls: Sequence[Dose], *, told: bool) -> tuple[Dose, ...]:
    found = measurement.found
    if not told and measurement.grid.temp_c is None:
        return ()  # contrast cannot be told from a drug without its cold
    acts = [*found.injections_s, *(a for a, _ in found.flushes_s)]
    return doses_of(falls, told=told, acts_s=acts)


def _moved_s(measurement: Measurement, drawn: Episode) -> float:
    """Return when the wire was moved for certain: the last step within, else the climb's end."""
    steps = [
        s.start_s for s in measurement.quality.spans
        if s.code == "ratio_step" and drawn.start_s < s.start_s <= drawn.end_s
    ]  # fmt: skip
    late = [s for s in steps if s > (drawn.start_s + drawn.end_s) / 2.0]
    return max(late, default=drawn.end_s) - WIRE_MOVES_S


def _without(measurement: Measurement, doses: Sequence[bool]) -> Measurement:
    """Return the measurement with boluses that are doses as flushes, not as injections."""
    if not any(doses):
        return measurement
    found = measurement.found
    kept = [k for k, dose in enumerate(doses) if not dose]
    given = [t for t, dose in zip(found.injections_s, doses, strict=True) if dose]
    return replace(
        measurement, readings=tuple(measurement.readings[k] for k in kept),
        found=replace(
            found, injections_s=tuple(found.injections_s[k] for k in kept),
            episodes=tuple(
                replace(e, kind="flush", phase="")
                if e.kind == "injection" and e.start_s in given else e
                for e in found.episodes
            ),
            flushes_s=(*found.flushes_s, *((t, t) for t in given)),
        ),
    )  # fmt: skip


def _read(
    measurement: Measurement, doses: tuple[Dose, ...], acted: tuple[Dose, ...], end_s: float, *,
    keep_pullback: bool,
) -> Measurement:  # fmt: skip
    """Return the measurement with line and phases by dose; without a dose read, not reached."""
    found = measurement.found
    rows: list[Episode] = []
    for e in found.episodes:
        if e.kind == "hyperaemia" or (e.kind == "pullback" and not keep_pullback):
            continue
        phase = phases_by_doses([e.start_s], acted)[0]
        rows.append(replace(e, phase=phase) if e.kind == "injection" else e)  # type: ignore[arg-type]
    rows += [Episode(kind="hyperaemia", start_s=d.begun_s, end_s=d.gone_s) for d in doses or acted]
    line: tuple[Stretch, ...] = line_of_doses(doses, end_s)
    if acted[0].begun_s < (line[0].start_s if line else end_s):
        until = line[0].start_s if line else end_s
        line = (Stretch(start_s=acted[0].begun_s, end_s=until, state="not reached"), *line)
    doubt = Doubt(verdict="not seen", short=SHORT_OF_FULL)
    if doses:
        doubt = Doubt(verdict="full", swing=max(_swing(measurement, d) for d in doses))
    made: FoundEpisodes = replace(
        found, episodes=tuple(sorted(rows, key=lambda e: (e.start_s, e.end_s, e.kind))),
        phases=phases_by_doses(found.injections_s, acted), hyperaemia=_seen(line, doubt),
    )  # fmt: skip
    return replace(measurement, found=made)


def _seen(states: tuple[Stretch, ...], doubt: Doubt) -> Seen:
    steady = [s.start_s for s in states if s.state == "steady"]
    return Seen(
        begun_s=states[0].start_s, arrived_s=min(steady, default=states[-1].end_s),
        end_s=states[-1].end_s, course=None, plateau=Plateau(), doubt=doubt, states=states,
    )  # fmt: skip


def _swing(measurement: Measurement, dose: Dose) -> float:
    """Return how far Pd/Pa moved on one dose's plateau, breaths taken off."""
    level = measurement.found.trend.between(dose.steady_s, dose.over_s).level
    if level.size < 2:
        return 0.0
    return float(np.percentile(level, 97.5) - np.percentile(level, 2.5))


def _listed(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _finding(
    code: str, severity: Severity, at_s: tuple[float | None, float | None], message: str, do: str
) -> Finding:
    return Finding(
        code=code, severity=severity, channel=None, start_s=at_s[0], end_s=at_s[1],
        message=message, do=do,
    )  # fmt: skip
