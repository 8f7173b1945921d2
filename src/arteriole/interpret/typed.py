"""Numbers of an old report to evidence: checked for unit and range, doubt from repeatability."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from arteriole.errors import OptionError, UnknownKey
from arteriole.indices import (
    KEYS,
    Evidence,
    FlowEvidence,
    Index,
    InjectionEvidence,
    Offset,
    Pressures,
    compute,
)  # fmt: skip
from arteriole.indices.evidence import State
from arteriole.indices.retest import RELATIVE, ROOT_HALF, retest_sd
from arteriole.interpret.flips import flips
from arteriole.interpret.rules import Rules, with_lines_of
from arteriole.interpret.state import state
from arteriole.interpret.statement import Flip, NextAct, Statement
from arteriole.recording.finding import Finding
from arteriole.recording.settings import Settings
from arteriole.recording.sheet import Sheet

#: Lowest and highest value that is taken, by key; outside them a unit is likely wrong. Our choice,
#: decision 0065.
PRESSURES: Final = {
    "pa_rest_mmhg": (30.0, 200.0), "pd_rest_mmhg": (5.0, 200.0),
    "pa_hyper_mmhg": (30.0, 200.0), "pd_hyper_mmhg": (5.0, 200.0),
}  # fmt: skip
TIMES: Final = {"tmn_rest_s": (0.05, 5.0), "tmn_hyper_s": (0.03, 5.0)}
GAUGES: Final = {"drift_mmhg": (-20.0, 20.0), "equalisation_mmhg": (-20.0, 20.0)}
FLOWS: Final = {"q_rest": (5.0, 500.0), "q_hyper": (10.0, 1500.0)}
ON_SHEET: Final = {
    "coronary_occlusion_mmhg": (0.0, 150.0), "cvp_mmhg": (0.0, 40.0),
    "sensor_lag_s": (0.0, 1.0), "sensor_height_cm": (-15.0, 15.0),
}  # fmt: skip
RATIO: Final = (0.1, 1.2)
OWN_RANGES: Final = {
    "imr": (1.0, 250.0), "imr_corrected": (1.0, 250.0), "imr_occlusion": (1.0, 250.0),
    "imr_lag_corrected": (1.0, 250.0), "baseline_resistance_index": (2.0, 600.0),
    "cfr_bolus": (0.5, 20.0), "cfr_bolus_lag_corrected": (0.5, 30.0),
    "cfr_continuous": (0.5, 15.0), "cfr_over_ffr": (0.5, 40.0), "rrr": (0.5, 30.0),
    "mrr_bolus": (0.5, 30.0), "mrr_continuous": (0.5, 20.0),
    "r_micro_rest": (50.0, 10000.0), "r_micro_hyper": (30.0, 5000.0),
    "pullback_drop": (-0.1, 1.0), "pullback_gradient_index": (0.0, 1.0),
    "collateral_flow_index": (0.0, 1.0), "tmn_rest_lag_corrected": (0.05, 5.0),
    "tmn_hyper_lag_corrected": (0.03, 5.0),
}  # fmt: skip
ALIAS: Final = {"tmn_rest": "tmn_rest_s", "tmn_hyper": "tmn_hyper_s"}
TMN_SHARE: Final = RELATIVE["tmn_hyper"]
RATIO_SD: Final = 0.018 * ROOT_HALF  # one reading of Pd/Pa [Johnson2015]
GAUGE_SD_MMHG: Final = 0.5  # a typed offset is rounded to about one; decision 0065
ONLY_TYPED: Final = Finding(
    code="typed_only", severity="note", channel=None, start_s=None, end_s=None,
    message="Only numbers were given: rest, hyperaemia, drift and curves could not be checked.",
    do="Analyse the recording itself where it still exists.",
)  # fmt: skip


def _ranges() -> dict[str, tuple[float, float]]:
    rows = dict(PRESSURES) | TIMES | GAUGES | FLOWS | ON_SHEET
    for key in KEYS:
        if key not in ALIAS and key not in rows:
            rows[key] = OWN_RANGES.get(key, RATIO)
    return rows


RANGES: Final = _ranges()


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedStudy:
    """What an old report's numbers give."""

    sheet: Sheet
    settings: Settings
    indices: tuple[Index, ...]
    statement: Statement
    flips: tuple[Flip, ...]
    next_acts: tuple[NextAct, ...]
    findings: tuple[Finding, ...]
    equalisation: Offset
    drift: Offset


def typed_numbers(given: Mapping[str, str]) -> dict[str, tuple[float, ...]]:
    """Return the numbers by key; transit times may be a list with commas.

    Raises
    ------
    UnknownKey
        A key that is not known; the message lists the allowed ones.
    OptionError
        No number, a list where one is wanted, or a value outside its range.
    """
    numbers: dict[str, tuple[float, ...]] = {}
    for word, text in given.items():
        key = ALIAS.get(word, word)
        if key not in RANGES:
            raise UnknownKey(
                f"Key {word!r} is not known; allowed: {', '.join(sorted(RANGES))}; "
                "choose one of them."
            )
        try:
            row = tuple(float(part) for part in text.split(","))
        except ValueError:
            row = ()
        several = key in TIMES
        if not row or (len(row) > 1 and not several):
            wanted = "numbers parted by commas" if several else "one number with a decimal point"
            raise OptionError(f"{word} was given {text!r}; {wanted} is needed; write it like that.")
        low, high = RANGES[key]
        for value in row:
            if not low <= value <= high:
                raise OptionError(
                    f"{word} was given {value:g}; {low:g} to {high:g} is allowed; check the unit."
                )
        numbers[key] = row
    return numbers


def typed_evidence(
    numbers: Mapping[str, tuple[float, ...]], sheet: Sheet, settings: Settings
) -> Evidence:
    """Return evidence of typed numbers; what stands on the sheet may be typed too."""
    one = {k: v[0] for k, v in numbers.items() if k not in TIMES}
    on_sheet: dict[str, Any] = {k: one[k] for k in ON_SHEET if k in one}
    injections = [
        *_injections("rest", numbers.get("tmn_rest_s", ()), one),
        *_injections("hyperaemia", numbers.get("tmn_hyper_s", ()), one),
    ]
    flows = [f for f in (_flow("rest", one), _flow("hyperaemia", one)) if f is not None]
    typed = {
        k: (one[k], retest_sd(k, one[k])) for k in KEYS if k in one and k not in FLOWS
    }  # fmt: skip
    return Evidence(
        sheet=replace(sheet, **on_sheet), settings=settings, rest=_pressures("rest", one),
        plateau=_pressures("hyper", one), injections=tuple(injections),
        equalisation=_offset(one.get("equalisation_mmhg"), settings),
        drift=_offset(one.get("drift_mmhg"), settings), flows=tuple(flows), typed=typed,
    )  # fmt: skip


def interpret_typed(
    given: Mapping[str, str],
    sheet: Sheet,
    settings: Settings,
    rules: Rules,
    tables: Mapping[str, Rules],
) -> TypedStudy:
    """Return indices, statement, flips and next acts of typed numbers.

    Raises
    ------
    OptionError, UnknownKey
        As :func:`typed_numbers`.
    """  # fmt: skip
    rules = with_lines_of(rules, settings)
    evidence = typed_evidence(typed_numbers(given), sheet, settings)
    indices = compute(evidence)
    findings = (_only_typed(evidence),)
    return TypedStudy(
        sheet=evidence.sheet, settings=settings, indices=indices,
        statement=state(indices, evidence.sheet, "typed", findings, rules),
        flips=flips(evidence, indices, "typed", findings, rules, tables),
        next_acts=(), findings=findings, equalisation=evidence.equalisation, drift=evidence.drift,
    )  # fmt: skip


def _only_typed(evidence: Evidence) -> Finding:
    """Return what could not be checked; a typed drift was, by whoever wrote it down."""
    if evidence.drift.offset_mmhg is None:
        return ONLY_TYPED
    return replace(ONLY_TYPED, message=ONLY_TYPED.message.replace(", drift and", " and"))


def _pressures(word: str, one: Mapping[str, float]) -> Pressures | None:
    pa, pd = one.get(f"pa_{word}_mmhg"), one.get(f"pd_{word}_mmhg")
    if pa is None or pd is None:
        return None
    return Pressures(pa_mmhg=pa, pd_mmhg=pd, ratio_sd={"pd_pa": RATIO_SD})


def _injections(
    phase: State, times_s: tuple[float, ...], one: Mapping[str, float]
) -> list[InjectionEvidence]:
    word, letter = ("rest", "R") if phase == "rest" else ("hyper", "H")
    pa, pd = one.get(f"pa_{word}_mmhg"), one.get(f"pd_{word}_mmhg")
    return [
        InjectionEvidence(
            label=f"{letter}{k}", phase=phase, tmn_s=tmn, sd_s={"repeatability": TMN_SHARE * tmn},
            pa_before_mmhg=pa, pd_before_mmhg=pd,
        )
        for k, tmn in enumerate(times_s, start=1)
    ]  # fmt: skip


def _flow(phase: State, one: Mapping[str, float]) -> FlowEvidence | None:
    word = "rest" if phase == "rest" else "hyper"
    q = one.get(f"q_{word}")
    if q is None:
        return None
    return FlowEvidence(
        phase=phase, q_ml_min=q, sd_ml_min={"repeatability": retest_sd(f"q_{word}", q)},
        pa_mmhg=one.get(f"pa_{word}_mmhg"), pd_mmhg=one.get(f"pd_{word}_mmhg"),
    )  # fmt: skip


def _offset(offset_mmhg: float | None, settings: Settings) -> Offset:
    if offset_mmhg is None:
        return Offset()
    off = abs(offset_mmhg) > settings.drift_off_mmhg
    return Offset(state="off" if off else "matched", offset_mmhg=offset_mmhg, sd_mmhg=GAUGE_SD_MMHG)
