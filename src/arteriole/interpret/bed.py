"""The microvascular bed: reserve and resistance together, by bolus, else by continuous flow."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from arteriole.indices.index import Index
from arteriole.interpret.reading import Against, against, first_measured
from arteriole.interpret.rules import Rules

BedWord = Literal[
    "structural microvascular", "functional microvascular",
    "raised resistance, preserved reserve", "normal", "cannot say", "not measured",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """The word, its grounds, what is near its line, and what was not assessed."""

    word: BedWord
    because: tuple[str, ...] = ()
    near: bool = False
    missing: tuple[str, ...] = ()


def bed_of(indices: Mapping[str, Index], rules: Rules, *, steady: bool) -> Bed:
    """Return the pattern of the bed where no epicardial obstruction is in the way."""
    reserve = first_measured(rules.reserve, indices)
    resistance = first_measured(rules.resistance, indices)
    words = {reserve.word, resistance.word}
    if words == {"not measured"}:
        return _by_continuous(indices, rules)
    because = tuple(a.told for a in (reserve, resistance) if a.told)
    near = reserve.near or resistance.near
    if "cannot say" in words:
        return Bed(word="cannot say", because=because, near=near)
    if "not measured" in words:
        missing = "flow reserve" if reserve.word == "not measured" else "microvascular resistance"
        word: BedWord = "normal" if "normal" in words else "cannot say"
        return Bed(word=word, because=because, near=near, missing=(missing,))
    low, high = reserve.word == "abnormal", resistance.word == "abnormal"
    if low and not high:
        return _functional(indices, rules, because, near=near, steady=steady)
    if low:
        return Bed(word="structural microvascular", because=because, near=near)
    if high:
        told = "A raised resistance alone counts as microvascular disease by [Ong2018], not where "
        return Bed(
            word="raised resistance, preserved reserve", near=near,
            because=(*because, told + "reserve decides [Rahman2020]."),
        )  # fmt: skip
    return Bed(word="normal", because=because, near=near)


def bed_under_stenosis(indices: Mapping[str, Index], rules: Rules) -> Against | None:
    """Return the line that says the bed is diseased as well, or None when none was measured.

    Flow reserve cannot say so: the stenosis lowers it too.
    """
    rows = [against(r, indices) for r in rules.corrected]
    rows = [r for r in rows if r.word != "not measured" and _in_domain(r, indices)]
    rows += [against(r, indices) for r in (rules.continuous_confirms,)]
    rows += [against(r, indices) for r in rules.reserve if r.key == "mrr_bolus"]
    said = [r for r in rows if r.word != "not measured"]
    return said[0] if said else None


def _in_domain(row: Against, indices: Mapping[str, Index]) -> bool:
    lines = indices[row.rule.key].cutoffs
    return not lines or not all(c.note.startswith("no side: Pd/Pa") for c in lines)


def _functional(
    indices: Mapping[str, Index], rules: Rules, because: tuple[str, ...], *, near: bool,
    steady: bool,
) -> Bed:  # fmt: skip
    baseline = against(rules.baseline, indices)
    resting = indices.get("resting_pd_pa")
    doubts = []
    if resting is None or resting.value is None:
        doubts.append("Rest is not proven, and a functional pattern needs it.")
    if not steady:
        doubts.append("Hyperaemia is not proven steady, and a functional pattern needs it.")
    if baseline.word == "not measured":
        doubts.append(
            "The baseline resistance index is missing, and a functional pattern needs it."
        )
    elif baseline.word != "abnormal":
        doubts.append(f"{baseline.told} A functional pattern needs a low one.")
    if doubts:
        return Bed(word="cannot say", because=(*because, *doubts), near=near)
    return Bed(
        word="functional microvascular", because=(*because, baseline.told),
        near=near or baseline.near,
    )  # fmt: skip


def _by_continuous(indices: Mapping[str, Index], rules: Rules) -> Bed:
    confirms = against(rules.continuous_confirms, indices)
    excludes = against(rules.continuous_excludes, indices)
    if confirms.word == "not measured":
        return Bed(word="not measured", missing=("microvascular function",))
    if excludes.word == "abnormal":  # "abnormal" here reads: the excluding line is met
        return Bed(word="normal", because=(excludes.told,), near=excludes.near)
    if confirms.word == "abnormal":
        told = "It tells a diseased bed, not whether the pattern is structural or functional."
        return Bed(word="cannot say", because=(confirms.told, told), near=confirms.near)
    told = "Between both lines is indeterminate."
    return Bed(word="cannot say", because=(confirms.told, told), near=True)
