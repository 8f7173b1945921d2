"""One session of a virtual patient, from the seed to recording, sheet and truth."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from arteriole.errors import OptionError
from arteriole.recording import Channel, Recording, Sheet
from arteriole.recording.sheet import Continuous, Guide, Hyperaemia, Nitrate, SpasmStep
from arteriole.recording.sheet import Pullback as PullbackSheet
from arteriole.simulate import circulation as c
from arteriole.simulate import transport
from arteriole.simulate.acts import Provoke, of_kind
from arteriole.simulate.course import Course, course
from arteriole.simulate.draw import Draw, draw
from arteriole.simulate.ecg import ecg
from arteriole.simulate.gauge import Gauges, quantum, read_gauges
from arteriole.simulate.patient import with_overrides
from arteriole.simulate.patterns import patient_of, plan_of
from arteriole.simulate.script import Plan, write_script
from arteriole.simulate.truth import truth_of

RATES_HZ = (50.0, 4000.0)  # allowed


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A recording, what the operator knows, and what is true."""

    recording: Recording
    sheet: Sheet
    truth: dict[str, Any]


def session(
    pattern: str,
    seed: int,
    *,
    artefacts: Sequence[str] = (),
    overrides: Mapping[str, float] | None = None,
    rate_hz: float = 500.0,
    continuous: bool = False,
    shaft: bool = True,
    ecg_channel: bool = True,
    relative: bool = False,
    stepped: bool = True,
    pa_during_injection: str = "flat",
    route: str = "intravenous",
    case_id: str | None = None,
) -> Session:
    """Return a session of a virtual patient: recording, sheet and truth.

    The same arguments give the same bytes. ``stepped`` True stores 12-bit steps; ``relative``
    gives temperature as difference from blood; ``pa_during_injection`` is flat, spike or none;
    ``route`` intracoronary gives single doses, one before each bolus, and no pullback.

    Raises
    ------
    UnknownKey
        An unknown pattern, artefact or patient constant.
    OptionError
        A sampling rate, Pa behaviour or route out of range.
    """
    if not RATES_HZ[0] <= rate_hz <= RATES_HZ[1]:
        raise OptionError(
            f"Sampling rate {rate_hz:g} Hz was given; allowed: {RATES_HZ[0]:g} to "
            f"{RATES_HZ[1]:g} Hz. Choose one in the range."
        )
    if pa_during_injection not in ("flat", "spike", "none"):
        raise OptionError(
            f"Pa during injections was given as {pa_during_injection!r}; allowed: flat, spike, "
            "none. Choose one."
        )
    if route not in ("intravenous", "intracoronary"):
        raise OptionError(
            f"Route {route!r} was given; allowed: intravenous, intracoronary. Choose one."
        )
    if route == "intracoronary" and "unstable_hyperaemia" in artefacts:
        raise OptionError(
            "Artefact unstable_hyperaemia was given with route intracoronary: a single dose has no "
            "waves. Choose route intravenous, or leave the artefact out."
        )
    roots = np.random.SeedSequence([seed, 1]).spawn(4)
    faults = tuple(sorted(set(artefacts)))
    patient = patient_of(pattern, faults, np.random.default_rng(roots[0]))
    patient = with_overrides(patient, overrides or {})
    plan = plan_of(pattern, continuous=continuous, pa=pa_during_injection, route=route)
    acts, duration_s = write_script(plan, faults, np.random.default_rng(roots[1]))
    inside = course(patient, acts, duration_s, rate_hz, seed)
    gauges = read_gauges(
        patient, acts, inside.t_s, rate_hz, pa=inside.flow[:, c.OUT_OSTIUM], pd=inside.pd_mmhg,
        depression=inside.cold[:, transport.OUT_SENSOR],
        shaft=inside.cold[:, transport.OUT_SHAFT], inject=inside.inject_ml_s, relative=relative,
        stepped=stepped, streams=[np.random.default_rng(s) for s in roots[2].spawn(4)],
    )  # fmt: skip
    name = case_id or f"{pattern}-{seed}"
    channels = _channels(
        inside, gauges, rate_hz, shaft=shaft, ecg_channel=ecg_channel, stepped=stepped,
        rng=np.random.default_rng(roots[3]),
    )  # fmt: skip
    sheet = sheet_of(name, pattern, inside, plan, relative=relative)
    return Session(
        recording=Recording(
            name=name, sha256=_digest(channels), format="simulated", channels=channels,
            sheet=sheet, simulated=True,
        ),
        sheet=sheet,
        truth=truth_of(inside, gauges, pattern=pattern, seed=seed, artefacts=faults),
    )  # fmt: skip


def _channels(
    inside: Course, gauges: Gauges, rate_hz: float, *, shaft: bool, ecg_channel: bool,
    stepped: bool, rng: np.random.Generator,
) -> tuple[Channel, ...]:  # fmt: skip
    rows = [("pa", "mmHg", gauges.pa), ("pd", "mmHg", gauges.pd), ("temp", "°C", gauges.temp)]
    if shaft:
        rows.append(("shaft_temp", "°C", gauges.shaft))
    made = [
        Channel(name=name, unit=unit, rate_hz=rate_hz, values=row,
                quantum=quantum(name)[0] if stepped else 0.0)
        for name, unit, row in rows
    ]  # fmt: skip
    if ecg_channel:
        row = ecg(inside.beats, inside.t_s, rng)
        made.append(Channel(name="ecg", unit="mV", rate_hz=rate_hz, values=row))
    return tuple(made)


def _digest(channels: Sequence[Channel]) -> str:
    total = hashlib.sha256()
    for channel in channels:
        total.update(channel.name.encode())
        total.update(np.ascontiguousarray(channel.values).tobytes())
    return total.hexdigest()


def sheet_of(name: str, pattern: str, inside: Course, plan: Plan, *, relative: bool) -> Sheet:
    """Return what the operator of this session knows."""
    p = inside.patient
    steps = of_kind(inside.acts, Provoke)
    sheet = Sheet(
        case_id=name,
        vessel=p.vessel,
        wire_position_cm=round(p.length_mm / 10.0, 1),
        pa_transducer="fluid",
        temp_reference="relative" if relative else "absolute",
        sensor_lag_s=round(p.sensor_lag_s, 2),
        bolus_volume_ml=plan.bolus_ml,
        hyperaemia=Hyperaemia(agent="adenosine", route=plan.route),
        pullback=PullbackSheet(length_mm=round(p.length_mm, 1) if plan.pullback else None),
        guide=Guide(size_f=6.0, side_holes=False, engaged=True),
        simulated=True,
    )
    if plan.continuous:
        sheet = replace(sheet, continuous=Continuous(rest_ml_min=10.0, hyperaemia_ml_min=20.0))
    if pattern == "infarction":
        sheet = replace(sheet, prior_infarct=True)
    if pattern == "stented":
        sheet = replace(sheet, stage="after")
    if steps:
        relief = [s for s in steps if s.agent == "nitrate"]
        sheet = replace(
            sheet,
            arteries_spasm_tested=(p.vessel,),
            nitrate=Nitrate(dose_ug=relief[0].dose_ug, time_s=relief[0].start_s)
            if relief
            else Nitrate(),
            spasm_test=tuple(
                SpasmStep(
                    agent=s.agent, dose_ug=s.dose_ug, route="intracoronary", symptoms=s.symptoms,
                    ecg_change=s.ecg_change, narrowing_percent=round(100.0 * s.narrowing),
                    time_s=s.start_s, artery=p.vessel,
                )
                for s in steps
                if s.agent != "nitrate"
            ),
        )  # fmt: skip
    return sheet


def session_of(drawn: Draw, *, case_id: str | None = None) -> Session:
    """Return the session of a draw."""
    return session(
        drawn.pattern, drawn.seed, artefacts=drawn.artefacts, overrides=drawn.overrides,
        rate_hz=drawn.rate_hz, continuous=drawn.continuous, shaft=drawn.shaft,
        ecg_channel=drawn.ecg_channel, relative=drawn.relative, stepped=drawn.stepped,
        pa_during_injection=drawn.pa_during_injection, case_id=case_id,
    )  # fmt: skip


def drawn_session(seed: int, *, index: int = 0, case_id: str | None = None) -> Session:
    """Return session ``index`` of the cohort ``seed``."""
    return session_of(draw(seed, index=index), case_id=case_id)
