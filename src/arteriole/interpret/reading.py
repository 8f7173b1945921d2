"""One index against one rule: abnormal, normal, cannot say or not measured."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from arteriole.indices.about import is_abnormal, line_as_printed, printed
from arteriole.indices.index import Index
from arteriole.indices.unproven import RATIOS
from arteriole.interpret.rules import Rule

Word = Literal["abnormal", "normal", "cannot say", "not measured"]
ONSET = "onset convention"
BOUND = ", which full hyperaemia may change."
UNRESTED = ", which proven rest may change."


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """The word, whether it is near the line, and the sentence that says so with its source."""

    rule: Rule
    word: Word
    near: bool
    told: str
    value: float | None = None


def against(rule: Rule, indices: Mapping[str, Index]) -> Against:
    """Return how the index stands to the rule, by the value as printed.

    A bolus index whose two time-zero conventions fall on both sides says "cannot say".
    """
    index = indices.get(rule.key)
    if index is None or index.value is None:
        return Against(rule=rule, word="not measured", near=False, told="")
    cutoff, decimals = rule.as_cutoff(), index.decimals
    bad = is_abnormal(index.value, cutoff, decimals)
    shown = f"{index.label} {printed(index.value, decimals):.{decimals}f}"
    line = f"{rule.relation} {line_as_printed(rule.value)} {rule.source}"
    onset = index.alternatives.get(ONSET)
    if onset is not None and is_abnormal(onset, cutoff, decimals) != bad:
        return Against(
            rule=rule, word="cannot say", near=True, value=index.value,
            told=f"{shown}, by the onset convention {onset:.{decimals}f}: the line {line} lies "
            "between both, and no published line states its convention.",
        )  # fmt: skip
    sided = any(c.side is not None for c in index.cutoffs)
    bound = index.certainty == "cannot say" and sided
    near = index.certainty == "near the line" or bound
    told = f"{shown}: {'meets' if bad else 'does not meet'} {line}"
    open_by = UNRESTED if index.key in RATIOS else BOUND
    return Against(
        rule=rule, word="abnormal" if bad else "normal", near=near, value=index.value,
        told=told + (open_by if bound else ", near the line." if near else "."),
    )  # fmt: skip


def first_measured(rules: Sequence[Rule], indices: Mapping[str, Index]) -> Against:
    """Return the first rule whose index was measured; else the last, not measured."""
    rows = [against(r, indices) for r in rules]
    for row in rows:
        if row.word != "not measured":
            return row
    return rows[-1]
