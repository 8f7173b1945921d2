"""FFR under every published reading at once; each reading names the others beside it."""

from dataclasses import dataclass

from arteriole.indices.about import About, Ways, Where, give, withhold
from arteriole.indices.evidence import Evidence
from arteriole.indices.ground import Ground, ground_of
from arteriole.indices.index import Index, Withheld
from arteriole.indices.pressure import height_reading, venous_reading, zero_reading
from arteriole.indices.quantity import Formula, Quantity, combine

OTHER_COUNT = 3  # beats of the shorter published reading
SPREAD_TOLD = 0.02  # readings this far apart are told; issue of the readings, decision 0062
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
    return _as_read(about, evidence, formula, _lowest(evidence))


def plateau_as_read(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the plateau mean as read."""
    return _as_read(about, evidence, formula, _traced_plateau(evidence))


def lowest_corrected(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the lowest steady mean with the gauges' offset taken off Pd."""
    return _corrected(about, evidence, formula, _lowest(evidence))


def plateau_corrected(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return the plateau mean with the gauges' offset taken off Pd."""
    return _corrected(about, evidence, formula, _traced_plateau(evidence))


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
    count = evidence.settings.ffr_beats
    rows = {
        f"lowest {count}-beat mean": lowest_reading(evidence, count),
        f"lowest {OTHER_COUNT}-beat mean": lowest_reading(evidence, OTHER_COUNT),
        "plateau mean": plateau_reading(evidence) if evidence.beats is not None else None,
    }
    values = {k: r.pd.value / r.pa.value for k, r in rows.items() if r is not None}
    if evidence.lowest_smoothed is not None:
        values["lowest smoothed"] = evidence.lowest_smoothed
    return values


def _spread_note(values: dict[str, float]) -> str:
    if len(values) < 2:
        return ""
    low, high = min(values.values()), max(values.values())
    if high - low < SPREAD_TOLD:
        return ""
    return f"Published readings of this trace lie {high - low:.2f} apart ({low:.2f} to {high:.2f})."


def _as_read(
    about: About, evidence: Evidence, formula: Formula, reading: Reading | None
) -> Index:  # fmt: skip
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        return give(
            about, typed, inputs={}, notes=("As typed.",),
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
        notes=(_spread_note(values), "" if ground.drift_checked else "Drift was not checked."),
    )  # fmt: skip


def _typed_corrected(ground: Ground, evidence: Evidence, typed: Quantity) -> dict[str, float]:
    offset, state = ground.offset_at(None), ground.plateau()
    if offset is None or state is None or evidence.drift.offset_mmhg is None:
        return {}
    return {"drift removed": typed.value - offset.value / state.pa_mmhg}


def _corrected(
    about: About, evidence: Evidence, formula: Formula, reading: Reading | None
) -> Index:  # fmt: skip
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        return give(about, typed, inputs={}, notes=("As typed.",))
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
    seen = evidence.step
    note = (
        "Only the offset at equalisation is taken off; drift was not checked."
        if not ground.drift_checked
        else "" if seen is None
        else f"Pd's gauge stepped by {seen.size_mmhg:+.1f} mmHg at {seen.time_s:.0f} s; the step "
        "is taken off from there on."
    )  # fmt: skip
    return give(
        about, combine(formula, pd, pa, offset),
        inputs={"pd_mmhg": pd.value, "pa_mmhg": pa.value, "offset_mmhg": offset.value},
        where=reading.where, ways=Ways(readings=readings), corrected_for=("drift",), notes=(note,),
    )  # fmt: skip


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
