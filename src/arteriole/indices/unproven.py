"""What rest that is not proven leaves of an index: a wider interval, and no clear side.

The value stays as read. Contrast, saline and nitrate raise flow, and the share of the pressure that
is lost, 1 - Pd/Pa, grows with flow: true rest lies at or above what was read. Contrast reaches 65 %
of the flow under adenosine in the first seconds; a quarter of a minute later less is left. Taken is
that up to three tenths of the loss are due to it, all shares alike: our choice, decision 0099.
"""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

import numpy as np

from arteriole.indices.about import is_abnormal, line_with_side
from arteriole.indices.evidence import Unrest
from arteriole.indices.index import Index
from arteriole.indices.quantity import Chance, Quantity

STILL_RAISED: Final = 0.3  # of 1 - Pd/Pa; our choice, decision 0099
RATIOS: Final = frozenset({"resting_pd_pa", "full_cycle_ratio", "diastolic_ratio",
                           "late_diastolic_ratio"})  # fmt: skip
#: Bolus indices that rest on injections in the same rest: no number is changed, it is said.
OF_REST: Final = frozenset({
    "tmn_rest", "tmn_rest_lag_corrected", "cfr_bolus", "cfr_bolus_lag_corrected", "cfr_over_ffr",
    "baseline_resistance_index", "rrr", "mrr_bolus",
})  # fmt: skip
SOURCE: Final = "rest not proven"


def most_at_rest(ratio: float) -> float:
    """Return the highest ratio that true rest may have."""
    return ratio + STILL_RAISED * max(1.0 - ratio, 0.0)


def widened(ratio: Quantity, unrest: Unrest | None, chance: Chance) -> Quantity:
    """Return a resting ratio with the doubt of a rest that is not proven.

    Flow that may be raised widens it upward only, a drift by half its size both ways, each as a
    rectangle [JCGM101].
    """
    if unrest is None:
        return ratio
    part = 0.5 * abs(unrest.drift) * chance.uniform("rest moves")
    if unrest.raised:
        up = most_at_rest(ratio.value) - ratio.value
        part = part + up * 0.5 * (1.0 + chance.uniform("rest raised"))
    whole = np.asarray(ratio.draws() + part)
    return replace(ratio, parts={**ratio.parts, SOURCE: part}, whole=whole)


def as_unproven(rows: Iterable[Index], unrest: Unrest) -> tuple[Index, ...]:
    """Return the indices of rest with what speaks against it, and without a clear side."""
    return tuple(_as_unproven(i, unrest) for i in rows)


def _as_unproven(index: Index, unrest: Unrest) -> Index:
    if index.value is None or index.inputs == {} or index.key not in RATIOS | OF_REST:
        return index
    told = f"Rest is not proven: it {unrest.told}."
    certainty = index.certainty
    if index.key in RATIOS:
        if unrest.raised:
            most = most_at_rest(index.value)
            told += f" True rest may read up to {most:.{index.decimals}f}."
            line = line_with_side(index)
            if line is not None and is_abnormal(index.value, line, index.decimals) != is_abnormal(
                most, line, index.decimals
            ):
                certainty = "cannot say"
        if certainty == "clear of the line":
            certainty = "near the line"
    return replace(index, note=f"{index.note} {told}".strip(), certainty=certainty)
