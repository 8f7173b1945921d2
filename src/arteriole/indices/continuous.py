"""Continuous thermodilution: inputs by name, kept apart from the bolus."""

from arteriole.indices.about import About, Ways, Where, give, withhold
from arteriole.indices.calibration import BY_PROBE, flow_of_thermodilution
from arteriole.indices.evidence import Evidence, FlowEvidence, State
from arteriole.indices.ground import Ground, ground_of
from arteriole.indices.index import Index, Withheld
from arteriole.indices.quantity import Formula, Quantity, combine

NO_FLOW = Withheld(
    reason="No continuous infusion with a steady temperature was read in this state.",
    do="Enter the infusion rates on the sheet; infuse until the temperature is steady.",
)
NO_PRESSURE = Withheld(
    reason="No clean beats during the infusion.", do="Repeat the infusion with clean pressures."
)


def continuous_index(
    about: About, evidence: Evidence, formula: Formula, names: tuple[str, ...]
) -> Index:
    """Return the index whose inputs have these names, or why there is none."""
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        return give(about, typed, inputs={}, notes=("As typed.",))
    given: list[Quantity] = []
    for name in names:
        phase: State = "rest" if "rest" in name else "hyperaemia"
        one = _input(ground, name, phase)
        if one is None:
            code = "continuous_rest" if phase == "rest" else "continuous_hyper"
            wanted = NO_FLOW if ground.flow(phase) is None else NO_PRESSURE
            return withhold(about, ground.why(about.key, code, otherwise=wanted))
        given.append(one)
    values = {
        n.removeprefix("flow_"): q.value for n, q in zip(names, given, strict=True)
    }  # fmt: skip
    rows = [f for f in evidence.flows if any(_belongs(f, n) for n in names)]
    for one_flow in rows:
        word = "rest" if one_flow.phase == "rest" else "hyper"
        for label, number in (
            ("t", one_flow.t_c), ("ti", one_flow.ti_c), ("infusion", one_flow.infusion_ml_min)
        ):  # fmt: skip
            if number is not None:
                unit = "ml_min" if label == "infusion" else "c"
                values[f"{label}_{word}_{unit}"] = number
    windows = tuple(
        (f.start_s, f.end_s) for f in rows if f.start_s is not None and f.end_s is not None
    )
    return give(
        about, combine(formula, *given), inputs=values, where=Where(windows_s=windows),
        ways=Ways(shown=_parts(ground, about.key) | _plain(rows, about.key)),
        corrected_for=("epicardial stenosis",) if about.key == "mrr_continuous" else (),
        notes=(_note(about.key, rows),),
    )  # fmt: skip


def _belongs(flow: FlowEvidence, name: str) -> bool:
    return ("rest" in name) == (flow.phase == "rest")


def _input(ground: Ground, name: str, phase: State) -> Quantity | None:
    if name.startswith("q_"):
        typed = ground.typed("q_rest" if phase == "rest" else "q_hyper")
        return typed if typed is not None else ground.flow(phase)
    pair = ground.flow_pair(phase)
    return None if pair is None else pair[0 if "_pd_" in name else 1]


def _plain(rows: list[FlowEvidence], key: str) -> dict[str, float]:
    """Return Q with T as the plain mean over time, beside the one with the flow's mean."""
    if not key.startswith("q_"):
        return {}
    plain = [f.q_plain_ml_min for f in rows if f.q_plain_ml_min is not None]
    return {"T as a plain mean over time": plain[0]} if plain else {}


def _note(key: str, rows: list[FlowEvidence]) -> str:
    if key == "cfr_continuous":
        return "Shares no line with the bolus."
    if key.startswith("q_") and any(f.q_plain_ml_min is not None for f in rows):
        return "T is the mean over the flow of the beat, not over time [Seligman2022]."
    return ""


def _parts(ground: Ground, key: str) -> dict[str, float]:
    """Return what stands beside: a flow by probe, mL/min; total and epicardial R, Wood units."""
    phase: State = "rest" if key.endswith("rest") else "hyperaemia"
    q, pair = ground.flow(phase), ground.flow_pair(phase)
    if key.startswith("q_") and q is not None:
        probe = flow_of_thermodilution(q.value)
        return {BY_PROBE: probe} if probe > 0.0 else {}
    if not key.startswith("r_micro") or q is None or pair is None:
        return {}
    pd, pa = pair[0].value, pair[1].value
    return {"R total": 1000.0 * pa / q.value, "R epicardial": 1000.0 * (pa - pd) / q.value}
