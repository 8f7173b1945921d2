"""What hyperaemia that may not have been full leaves of an index: a bound, not a side."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

from arteriole.indices.about import is_abnormal, line_with_side
from arteriole.indices.index import Index

FFRS: Final = frozenset({"ffr", "ffr_drift_corrected", "ffr_plateau",
                         "ffr_plateau_drift_corrected"})  # fmt: skip
#: In proportion to the transit time in hyperaemia, so that more flow makes them less.
LESS: Final = frozenset({"tmn_hyper", "tmn_hyper_lag_corrected", "imr", "imr_lag_corrected",
                         "imr_corrected", "imr_occlusion"})  # fmt: skip
MORE: Final = frozenset({"cfr_bolus", "cfr_bolus_lag_corrected", "cfr_over_ffr", "rrr",
                         "mrr_bolus"})  # fmt: skip
#: A drug that may not have been full is taken to have had at least half its effect; our choice,
#: decision 0095.
MOST_MISSED: Final = 2.0
#: Signs that it did something: resting over hyperaemic Tmn, and a fall of Pd/Pa; 0045, 0036.
SHORTER, FELL = 1.3, 0.02


def as_bounds(rows: Iterable[Index], rest_ratio: float | None) -> tuple[Index, ...]:
    """Return the indices as bounds, where more hyperaemia would have moved them.

    FFR and resistance are at most, flow reserve at least as read. A side that twice the drug's
    effect could undo has no certainty; one that it would leave stands. Where no effect is shown,
    the drug may not have come at all, and twice nothing tells nothing. Decision 0095.

    Parameters
    ----------
    rows : iterable of Index
        As the index modules give them.
    rest_ratio : float or None
        Resting Pd/Pa, from which the drug's effect on FFR counts.
    """
    known = {i.key: i for i in rows}
    shown = _shown(known, rest_ratio)
    return tuple(
        _as_bound(i, _with_full(i, known, rest_ratio) if shown else None) for i in known.values()
    )


def _shown(known: Mapping[str, Index], rest_ratio: float | None) -> bool:
    """Return whether the drug did something: transit times got shorter, or Pd/Pa fell."""
    reserve = known["cfr_bolus"].value if "cfr_bolus" in known else None
    ffr = known["ffr"].value if "ffr" in known else None
    fell = ffr is not None and rest_ratio is not None and rest_ratio - ffr >= FELL
    return fell or (reserve is not None and reserve >= SHORTER)


def _with_full(
    index: Index, known: Mapping[str, Index], rest_ratio: float | None
) -> float | None:  # fmt: skip
    """Return what twice the effect would give, None where nothing tells."""
    value = index.value
    if value is None:
        return None
    if index.key in FFRS:
        return None if rest_ratio is None else rest_ratio - MOST_MISSED * (rest_ratio - value)
    if index.key in MORE:
        return 1.0 + MOST_MISSED * (value - 1.0)
    reserve = known["cfr_bolus"].value if "cfr_bolus" in known else None
    return None if reserve is None else value * reserve / (1.0 + MOST_MISSED * (reserve - 1.0))


def _as_bound(index: Index, full: float | None) -> Index:
    if index.value is None or index.key not in FFRS | LESS | MORE:
        return index
    told = f"Hyperaemia may not have been full: at {'least' if index.key in MORE else 'most'} this."
    certainty = index.certainty
    line = line_with_side(index)
    if line is not None:
        now = is_abnormal(index.value, line, index.decimals)
        could = (line.relation in {"<=", "<"}) is (index.key not in MORE)
        then = could if full is None else is_abnormal(full, line, index.decimals)
        if then != now:
            certainty = "cannot say"
    return replace(index, note=f"{index.note} {told}".strip(), certainty=certainty)
