"""FFR under every published reading at once; each reading names the others beside it."""

from dataclasses import dataclass, replace

from arteriole.indices.about import About, Ways, Where, give, printed, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.gauges_at_rest import CORRECTED
from arteriole.indices.ground import USUAL_PA_MMHG, Ground, ground_of
from arteriole.indices.index import Index, Withheld
from arteriole.indices.pressure import height_reading, venous_reading, zero_reading
from arteriole.indices.quantity import Formula, Quantity, combine, floored

COUNTS = (5, 3)  # beats of the published readings [Johnson2015]; both always stand there
IRREGULAR_COUNT = 10  # beats to average in fibrillation; common practice, no source
SPREAD_TOLD = 0.02  # readings this far apart are told; issue of the readings, decision 0062
USUAL_PA_SD_MMHG = 15.0  # of mean Pa that nobody wrote down; our choice, decision 0098
#: What is taken off Pd, by what the gauges let be known; the first is the usual one.
LINEAR = (
    "offset = Pd minus Pa of both gauges at that time, linear between equalisation and drift check"
)
BUT_A_STEP = LINEAR + " but for a step"
NOT_CHECKED = "offset = Pd minus Pa of both gauges at equalisation; drift was not checked"
NOT_EQUALISED = "offset = Pd minus Pa of both gauges at the drift check; equalisation is not known"
NO_TIME = "offset = Pd minus Pa of both gauges at the drift check, how long before is not known"
NO_HYPERAEMIA = Withheld(
    reason="No steady hyperaemia with enough clean beats was found.",
    do="Read again once hyperaemia is steady, or mark the steady stretch.",
)
NOT_COMPARED = Withheld(
    reason="The two gauges were compared neither at the start nor at the end.",
    do="Draw the sensor back to the guide tip and compare the gauges.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One published reading: pressures, when, over how many beats."""

    pd: Quantity
    pa: Quantity
    middle_s: float | None
    where: Where


def lowest_reading(evidence: Evidence, count: int) -> Reading | None:
    """Return the lowest steady mean over ``count`` beats."""
    ground = ground_of(evidence)
    low, pair = ground.lowest(count), ground.lowest_pair(count)
    if low is None or pair is None:
        return None
    return Reading(
        pd=pair[0], pa=pair[1], middle_s=(low.start_s + low.end_s) / 2.0,
        where=Where(windows_s=((low.start_s, low.end_s),), beats=low.beats),
    )  # fmt: skip


def plateau_reading(evidence: Evidence) -> Reading | None:
    """Return the mean over the steady plateau."""
    ground = ground_of(evidence)
    state = ground.plateau()
    if state is None:
        return None
    pd, pa = ground.pressure_pair(state, "plateau")
    where = Where(windows_s=evidence.steady_s or state.windows_s, beats=state.beats)
    return Reading(pd=pd, pa=pa, middle_s=state.middle_s, where=where)


def lowest_as_read(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return FFR as read; typed values and typed hyperaemic pressures stand in for a trace."""
    return _as_read(_counted(about, evidence), evidence, formula, _lowest(evidence))


def plateau_as_read(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the plateau mean as read."""
    return _as_read(about, evidence, formula, _traced_plateau(evidence))


def lowest_corrected(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the lowest steady mean with the gauges' offset taken off Pd."""
    return _corrected(_counted(about, evidence), evidence, formula, _lowest(evidence))


def plateau_corrected(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the plateau mean with the gauges' offset taken off Pd."""
    return _corrected(about, evidence, formula, _traced_plateau(evidence))


def _counted(about: About, evidence: Evidence) -> About:
    """Return the index's words with the beats that the settings ask for."""
    usual, asked = f"over {COUNTS[0]} ", f"over {evidence.settings.ffr_beats} "
    return replace(about, text=about.text.replace(usual, asked))


def ffr_quantity(evidence: Evidence) -> Quantity | None:
    """Return FFR as read, typed or from the trace, for the indices that need it."""
    typed = ground_of(evidence).typed("ffr")
    if typed is not None:
        return typed
    reading = _lowest(evidence)
    return None if reading is None else combine(lambda d, a: d / a, reading.pd, reading.pa)


def _lowest(evidence: Evidence) -> Reading | None:
    """Return the lowest steady mean; without a trace typed hyperaemic pressures stand in."""
    if evidence.beats is None:
        return plateau_reading(evidence)
    return lowest_reading(evidence, evidence.settings.ffr_beats)


def _traced_plateau(evidence: Evidence) -> Reading | None:
    """Return the mean over the plateau of a trace; typed pressures have no plateau."""
    return plateau_reading(evidence) if evidence.beats is not None else None


def _readings(evidence: Evidence) -> dict[str, float]:
    longer = (IRREGULAR_COUNT,) if evidence.irregular else ()
    counts = dict.fromkeys((evidence.settings.ffr_beats, *COUNTS, *longer))
    rows = {f"lowest {count}-beat mean": lowest_reading(evidence, count) for count in counts}
    rows["plateau mean"] = plateau_reading(evidence) if evidence.beats is not None else None
    values = {k: r.pd.value / r.pa.value for k, r in rows.items() if r is not None}
    if evidence.lowest_smoothed is not None:
        values["lowest smoothed"] = evidence.lowest_smoothed
    return values


def _spread_note(values: dict[str, float], decimals: int) -> str:
    """Return how far the readings lie apart, by the numbers as printed."""
    if len(values) < 2:
        return ""
    low, high = (printed(end(values.values()), decimals) for end in (min, max))
    apart = printed(high - low, decimals)
    if apart < SPREAD_TOLD:
        return ""
    return (
        f"Published readings of this trace lie {apart:.{decimals}f} apart "
        f"({low:.{decimals}f} to {high:.{decimals}f})."
    )


def _as_read(
    about: About, evidence: Evidence, formula: Formula, reading: Reading | None
) -> Index:  # fmt: skip
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        return give(
            about, typed, inputs={}, notes=("As typed.", *_pa_note(ground)),
            ways=Ways(readings=_typed_corrected(ground, evidence, typed)),
        )  # fmt: skip
    if reading is None:
        return withhold(about, ground.why(about.key, "hyperaemia", otherwise=NO_HYPERAEMIA))
    pd, pa = reading.pd, reading.pa
    values = _readings(evidence)
    readings = dict(values)
    if ground.drift_checked:
        offset = ground.offset_at(reading.middle_s, reading.where.windows_s)
        if offset is not None:
            readings["drift removed"] = (pd.value - offset.value) / pa.value
    shown: dict[str, float] = {}
    for other in (height_reading, venous_reading, zero_reading):
        shown |= other(evidence, pd.value, pa.value)
    return give(
        about, combine(formula, pd, pa), inputs={"pd_mmhg": pd.value, "pa_mmhg": pa.value},
        where=reading.where, ways=Ways(shown=shown, readings=readings),
        notes=(
            _spread_note(values, about.decimals),
            "" if ground.drift_checked else "Drift was not checked.",
        ),
    )  # fmt: skip


def _typed_corrected(ground: Ground, evidence: Evidence, typed: Quantity) -> dict[str, float]:
    """Return typed FFR with a typed drift removed."""
    offset = ground.offset_at(None)
    if offset is None or evidence.drift.offset_mmhg is None:
        return {}
    return {"drift removed": typed.value - offset.value / _typed_pa(ground).value}


def _typed_pa(ground: Ground) -> Quantity:
    """Return mean Pa under the drug as typed, else a usual one with a wide doubt."""
    state = ground.plateau()
    if state is not None:
        return ground.pressure_pair(state, "plateau")[1]
    doubt = USUAL_PA_SD_MMHG * ground.chance.normal("usual pa")
    return floored(Quantity(value=USUAL_PA_MMHG, parts={"pressure": doubt}))


def _pa_note(ground: Ground) -> tuple[str, ...]:
    """Return that a usual Pa stands in, where the drift removed asks for one."""
    if not ground.drift_checked or ground.plateau() is not None:
        return ()
    return (f"Pa was not given; {USUAL_PA_MMHG:g} mmHg is taken to remove the drift.",)


def _removed_from_typed(about: About, ground: Ground, ffr: Quantity) -> Index:
    """Return typed FFR less the typed offset over mean Pa."""
    offset = ground.offset_at(None)
    if offset is None:
        return withhold(about, ground.why(about.key, "drift", otherwise=NOT_COMPARED))
    pa, assumed = _typed_pa(ground), ground.plateau() is None
    return give(
        _course_told(about, ground, None), combine(lambda f, o, p: f - o / p, ffr, offset, pa),
        inputs={"ffr": ffr.value, "pa_mmhg": pa.value, "offset_mmhg": offset.value},
        ways=Ways(readings={"as read": ffr.value} | {
            name: ffr.value - other / pa.value
            for name, other in _other_courses(ground, None).items()
        }),
        corrected_for=("drift",) if ground.drift_checked else (CORRECTED,),
        notes=(
            "From FFR as typed.",
            f"Pa was not given; {USUAL_PA_MMHG:g} mmHg is taken." if assumed else "",
            _course_note(ground.evidence),
        ),
    )  # fmt: skip


def _corrected(
    about: About, evidence: Evidence, formula: Formula, reading: Reading | None
) -> Index:  # fmt: skip
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        return give(about, typed, inputs={}, notes=("As typed.",))
    as_typed = ground.typed(about.key.removesuffix("_drift_corrected"))
    if as_typed is not None:
        return _removed_from_typed(about, ground, as_typed)
    if reading is None:
        return withhold(about, ground.why(about.key, "hyperaemia", otherwise=NO_HYPERAEMIA))
    offset = ground.offset_at(reading.middle_s, reading.where.windows_s)
    if offset is None:
        return withhold(about, ground.why(about.key, "drift", otherwise=NOT_COMPARED))
    # The unchecked drift of Pd is in the offset's own doubt already.
    pd = Quantity(
        value=reading.pd.value,
        parts={k: v for k, v in reading.pd.parts.items() if k != "drift"},
    )
    pa = reading.pa
    readings = {"as read": pd.value / pa.value} | {
        name: (pd.value - other) / pa.value
        for name, other in _other_courses(ground, reading.middle_s).items()
    }
    return give(
        _course_told(about, ground, reading.middle_s), combine(formula, pd, pa, offset),
        inputs={"pd_mmhg": pd.value, "pa_mmhg": pa.value, "offset_mmhg": offset.value},
        where=reading.where, ways=Ways(readings=readings),
        corrected_for=("drift",) if ground.drift_checked else (CORRECTED,),
        notes=(_course_note(evidence),),
    )  # fmt: skip


def _course_told(about: About, ground: Ground, time_s: float | None) -> About:
    """Return the index's words with what was really taken off."""
    start, step = ground.evidence.equalisation.offset_mmhg, ground.evidence.step
    if not ground.drift_checked:
        label = about.label.replace("drift removed", f"{CORRECTED} removed")
        return replace(about, label=label, text=about.text.replace(BUT_A_STEP, NOT_CHECKED))
    if start is None:
        course = NOT_EQUALISED
    elif ground.share_at(time_s) is None:
        course = NO_TIME
    else:
        course = LINEAR if step is None else BUT_A_STEP
    return replace(about, text=about.text.replace(BUT_A_STEP, course))


def _course_note(evidence: Evidence) -> str:
    start, end, seen = evidence.equalisation, evidence.drift, evidence.step
    if end.offset_mmhg is None:
        return "Only the offset at equalisation is taken off; drift was not checked."
    if start.offset_mmhg is None:
        return "The offset of the drift check is taken off; equalisation is not known."
    if seen is None:
        return ""
    return (
        f"Pd's gauge stepped by {seen.size_mmhg:+.1f} mmHg at {seen.time_s:.0f} s; the step "
        "is taken off from there on."
    )


def _other_courses(ground: Ground, time_s: float | None) -> dict[str, float]:
    """Return the offset at a time had the gauge taken another course, mmHg, by name."""
    evidence = ground.evidence
    start, end = evidence.equalisation, evidence.drift
    if end.offset_mmhg is None:
        return {}
    share = ground.share_at(time_s)
    if evidence.step is not None and start.offset_mmhg is not None and share is not None:
        moved = end.offset_mmhg - start.offset_mmhg
        return {"drift even in time": start.offset_mmhg + share * moved}
    rows = {"drift as a step before the reading": end.offset_mmhg}
    if start.offset_mmhg is not None:
        rows["drift as a step after the reading"] = start.offset_mmhg
    return rows
