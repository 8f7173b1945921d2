"""Indices and sheet to the pattern of the contract, with what was not assessed in one sentence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from arteriole.indices.index import Index
from arteriole.interpret.bed import Bed, bed_of, bed_under_stenosis
from arteriole.interpret.lag import lag_told
from arteriole.interpret.reading import Against, against
from arteriole.interpret.rules import Rules
from arteriole.interpret.spasm import Spasm, spasm_of
from arteriole.interpret.statement import Pattern, Statement
from arteriole.interpret.stenosis import under_stenosis
from arteriole.recording.finding import Finding
from arteriole.recording.sheet import Sheet

#: State of hyperaemia; "typed" when only numbers of an old report are known.
HyperaemiaWord = Literal["building", "steady", "fading", "not reached", "typed"]
SUBMAXIMAL = "hyperaemia_submaximal"  # code of the finding that hyperaemia may not be full
#: Codes of findings that rest is not proven; a functional pattern needs rest.
UNRESTED = frozenset({"rest_too_early", "rest_after_nitrate", "rest_moving"})
#: Patterns that too little hyperaemia can imitate: it lowers reserve and raises resistance.
IMITATED = frozenset({
    "structural microvascular", "functional microvascular", "raised resistance, preserved reserve",
})  # fmt: skip
POSITIVE = frozenset({"epicardial spasm", "microvascular spasm"})
WORDED: Mapping[str, str] = {
    "obstructive epicardial": "the numbers meet the line of an obstructive epicardial pattern",
    "structural microvascular":
        "low flow reserve with raised microvascular resistance, a pattern called structural",
    "functional microvascular":
        "low flow reserve with microvascular resistance below its line and high resting flow, a "
        "pattern called functional",
    "raised resistance, preserved reserve":
        "microvascular resistance at or above its line while flow reserve is preserved",
    "epicardial and microvascular":
        "an epicardial pattern and, corrected for it, microvascular resistance past its line",
    "epicardial spasm": "the spasm test meets all three criteria of epicardial spasm",
    "microvascular spasm": "the spasm test meets the criteria of microvascular spasm",
    "mixed": "spasm together with another pattern",
    "spasm test inconclusive": "two of three criteria in the spasm test, which is inconclusive",
    "no abnormality measured": "no abnormality in what was measured",
    "cannot say": "the numbers do not allow a pattern",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Epicardial:
    word: Literal["obstructed", "open", "cannot say", "not measured"]
    because: tuple[str, ...]
    near: bool = False


def state(
    indices: Sequence[Index],
    sheet: Sheet,
    hyperaemia_state: HyperaemiaWord,
    findings: Sequence[Finding],
    rules: Rules,
) -> Statement:
    """Return the statement by the rule table.

    Parameters
    ----------
    indices : sequence of Index
        As :func:`arteriole.indices.compute` gives them.
    sheet : Sheet
        For the spasm test, nitrate and tested arteries.
    hyperaemia_state : str
        Of the best stretch; "typed" when only numbers are known.
    findings : sequence of Finding
        Those of severity "stop" stand among the grounds; some take a pattern away.
    rules : Rules
        The table; its name and version are in the statement.
    """  # fmt: skip
    rows = {i.key: i for i in indices}
    epicardial = _epicardial(rows, rules, hyperaemia_state)
    spasm = spasm_of(sheet, rules.narrowing_percent)
    steady = hyperaemia_state in {"steady", "typed"}
    bed = bed_of(rows, rules, steady=steady)
    pattern, because, near = _measured(rows, rules, epicardial, bed)
    if any(f.code == SUBMAXIMAL for f in findings) or _without_drug(rows, hyperaemia_state):
        pattern, because = _submaximal(pattern, because, near_ffr=epicardial.near)
    if pattern == "functional microvascular" and any(f.code in UNRESTED for f in findings):
        told = "Rest is not proven, and a functional pattern needs it."
        pattern, because = "cannot say", (*because, told)
    pattern, because = _with_spasm(pattern, because, spasm)
    missing = _not_assessed(epicardial, bed, spasm, pattern, rows)
    stops = tuple(f.message for f in findings if f.severity == "stop")
    grounds = (
        *because, *under_stenosis(rows, rules), *lag_told(rows, rules), *_disagreements(rows),
        *stops,
    )  # fmt: skip
    return Statement(
        pattern=pattern, sentence=_sentence(pattern, missing, near=near), because=grounds,
        not_assessed=missing, rules=str(rules),
    )  # fmt: skip


def _without_drug(rows: Mapping[str, Index], hyperaemia_state: HyperaemiaWord) -> bool:
    """Return whether boluses were timed as hyperaemic though no effect of a drug was seen.

    Saline at a high rate opens vessels by itself, so continuous thermodilution is not meant.
    """
    timed = rows.get("tmn_hyper")
    return hyperaemia_state == "not reached" and timed is not None and timed.value is not None


def _epicardial(
    rows: Mapping[str, Index], rules: Rules, hyperaemia_state: HyperaemiaWord
) -> _Epicardial:
    ffr = against(rules.epicardial, rows)
    resting = [a for a in (against(r, rows) for r in rules.resting) if a.word != "not measured"]
    if ffr.word == "normal" and hyperaemia_state == "not reached":
        told = "FFR above its line counts only in hyperaemia, which was not reached."
        return _by_resting(resting, (ffr.told, told))
    if ffr.word == "not measured":
        return _by_resting(resting, ())
    against_it = [a for a in resting if a.word != ffr.word]
    told_all = (ffr.told, *(a.told for a in against_it))
    if against_it and ffr.near:
        note = "FFR is near its line and a resting index disagrees."
        return _Epicardial(word="cannot say", because=(*told_all, note), near=True)
    if against_it:
        told_all = (*told_all, "They disagree; the pattern follows FFR.")
    word: Literal["obstructed", "open"] = "obstructed" if ffr.word == "abnormal" else "open"
    return _Epicardial(word=word, because=told_all, near=ffr.near)


def _by_resting(resting: Sequence[Against], told: tuple[str, ...]) -> _Epicardial:
    if not resting:
        return _Epicardial(word="not measured", because=told)
    words = {a.word for a in resting}
    grounds = (*told, *(a.told for a in resting), "No valid FFR: resting indices decide.")
    if len(words) > 1:
        return _Epicardial(word="cannot say", because=(*grounds, "They disagree."), near=True)
    near = all(a.near for a in resting)
    if near:
        return _Epicardial(word="cannot say", because=(*grounds, "All near the line."), near=True)
    word: Literal["obstructed", "open"] = "obstructed" if "abnormal" in words else "open"
    return _Epicardial(word=word, because=grounds)


def _measured(
    rows: Mapping[str, Index], rules: Rules, epicardial: _Epicardial, bed: Bed
) -> tuple[Pattern, tuple[str, ...], bool]:
    grounds = epicardial.because
    if epicardial.word == "obstructed":
        under = bed_under_stenosis(rows, rules)
        if under is None:
            return "obstructive epicardial", grounds, epicardial.near
        pattern: Pattern = (
            "epicardial and microvascular" if under.word == "abnormal" else "obstructive epicardial"
        )
        near = epicardial.near or under.near
        return pattern, (*grounds, under.told), near
    if epicardial.word in {"cannot say", "not measured"}:
        why = () if epicardial.word == "cannot say" else ("No valid pressure index was measured.",)
        return "cannot say", (*grounds, *why, *bed.because), epicardial.near
    near = epicardial.near or bed.near
    grounds = (*grounds, *bed.because)
    if bed.word in {"normal", "not measured"}:
        return "no abnormality measured", grounds, near
    return bed.word, grounds, near  # type: ignore[return-value]


def _submaximal(
    pattern: Pattern, because: tuple[str, ...], *, near_ffr: bool
) -> tuple[Pattern, tuple[str, ...]]:
    """Return the pattern that still stands where hyperaemia may not have been full."""
    told = "Hyperaemia may not have been full, which raises FFR and resistance and lowers reserve."
    if pattern == "epicardial and microvascular":
        return "obstructive epicardial", (*because, told)
    if pattern in IMITATED or (pattern == "no abnormality measured" and near_ffr):
        return "cannot say", (*because, told)
    return pattern, because


def _with_spasm(
    pattern: Pattern, because: tuple[str, ...], spasm: Spasm
) -> tuple[Pattern, tuple[str, ...]]:
    because = (*because, *spasm.because)
    if spasm.weak:
        because = (*because, f"The negative spasm test is weak: {', '.join(spasm.weak)}.")
    plain = pattern in {"no abnormality measured", "cannot say"}
    if spasm.word in POSITIVE:
        return (spasm.word if plain else "mixed"), because  # type: ignore[return-value]
    if spasm.word == "spasm test inconclusive" and pattern == "no abnormality measured":
        return "spasm test inconclusive", because
    return pattern, because


def _not_assessed(
    epicardial: _Epicardial, bed: Bed, spasm: Spasm, pattern: Pattern, rows: Mapping[str, Index]
) -> tuple[str, ...]:
    missing: list[str] = []
    if epicardial.word == "not measured":
        missing.append("epicardial obstruction")
    if pattern == "obstructive epicardial":
        corrected = [rows.get(k) for k in ("imr_occlusion", "imr_corrected", "mrr_continuous")]
        if all(i is None or i.value is None for i in corrected):
            missing.append("microvascular function")
    else:
        missing.extend(bed.missing)
    if spasm.word == "not done":
        missing.append("vasospasm")
    elif spasm.word == "spasm test inconclusive":
        missing.append("vasospasm (test inconclusive)")
    elif spasm.weak:
        missing.append("vasospasm (weak negative)")
    return tuple(missing)


def _disagreements(rows: Mapping[str, Index]) -> tuple[str, ...]:
    """Return where drift removed or the plateau falls on the other side than FFR as read."""
    ffr = rows.get("ffr")
    if ffr is None or ffr.value is None or not ffr.cutoffs:
        return ()
    told = []
    for key in ("ffr_drift_corrected", "ffr_plateau", "ffr_plateau_drift_corrected"):
        other = rows.get(key)
        if other is None or other.value is None or not other.cutoffs:
            continue
        if (ffr.cutoffs[0].side == "above") != (other.cutoffs[0].side == "above"):
            told.append(
                f"{other.label} {other.value:.2f} falls on the other side of "
                f"{ffr.cutoffs[0].value:.2f} than FFR as read {ffr.value:.2f}."
            )
    return tuple(told)


def _sentence(pattern: Pattern, missing: Sequence[str], *, near: bool) -> str:
    lead = "" if pattern in {"cannot say", "no abnormality measured"} else "Consistent with "
    worded = WORDED[pattern]
    if pattern == "obstructive epicardial":
        worded = worded.replace("the numbers meet the line of ", "")
    if pattern in {"epicardial spasm", "microvascular spasm"}:
        worded = f"{pattern}: {worded}"
    text = lead + worded if lead else worded[0].upper() + worded[1:]
    if near and pattern != "cannot say":
        text += "; a deciding number is near its line, so a repeat may change it"
    if missing:
        text += f"; not assessed: {', '.join(missing)}"
    return text + "."
