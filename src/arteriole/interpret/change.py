"""Two readings of one index: whether the change is larger than a repeat alone would give."""

from dataclasses import dataclass
from typing import Literal

from arteriole.indices.index import Index

ChangeWord = Literal["larger than retest noise", "within retest noise", "cannot say"]

#: Standard deviation of the difference of two repeats, in the index's own unit.
ABSOLUTE_SD = {
    "ffr": (0.018, "[Johnson2015]"),
    "ffr_drift_corrected": (0.018, "[Johnson2015]"),
    "ffr_plateau": (0.018, "[Johnson2015]"),
    "ffr_plateau_drift_corrected": (0.018, "[Johnson2015]"),
    "resting_pd_pa": (0.018, "[Johnson2015]"),
}
#: The same as a share of the mean of both. The paper's "variability" is taken as one standard
#: deviation of the relative difference; figures from memory of the paper, decision 0073.
RELATIVE_SD = {
    "cfr_bolus": (0.313, "[Gallinoro2023]"),
    "imr": (0.242, "[Gallinoro2023]"),
    "cfr_continuous": (0.127, "[Gallinoro2023]"),
    "mrr_continuous": (0.124, "[Gallinoro2023]"),
}
COVERAGE_95 = 1.959964  # normal quantile 0.975


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Later minus earlier. ``noise95``: half-width that 95 % of pure repeats stay within."""

    difference: float | None
    noise95: float | None
    word: ChangeWord
    source: str


def change_between(earlier: Index, later: Index) -> Change:
    """Return the change of one index against published retest noise.

    The noise is the published one or, if larger, that of the two intervals of these recordings.

    Parameters
    ----------
    earlier, later : Index
        Of one key; indices of two methods have two keys and never meet here.
    """
    if earlier.value is None or later.value is None or earlier.key != later.key:
        return Change(difference=None, noise95=None, word="cannot say", source="")
    difference = later.value - earlier.value
    if earlier.key in ABSOLUTE_SD:
        published, source = ABSOLUTE_SD[earlier.key]
    elif earlier.key in RELATIVE_SD:
        share, source = RELATIVE_SD[earlier.key]
        published = share * abs(earlier.value + later.value) / 2
    else:
        return Change(difference=difference, noise95=None, word="cannot say", source="")
    own = sum(_half(i) ** 2 for i in (earlier, later)) ** 0.5
    noise = max(COVERAGE_95 * published, own)
    word: ChangeWord = (
        "larger than retest noise" if abs(difference) > noise else "within retest noise"
    )
    return Change(difference=difference, noise95=noise, word=word, source=source)


def _half(index: Index) -> float:
    if index.interval95 is None:
        return 0.0
    return (index.interval95[1] - index.interval95[0]) / 2
