"""Two readings of one index: whether the change is larger than a repeat alone would give."""

from dataclasses import dataclass
from typing import Literal

from arteriole.indices.index import Index
from arteriole.indices.retest import retest_sd

ChangeWord = Literal["larger than retest noise", "within retest noise", "cannot say"]

#: Standard deviation of the difference of two FFR readings; the single reading's noise in
#: ``indices/retest.py`` is that of a decision at the line, which is wider.
FFR_DIFFERENCE_SD = 0.018  # [Johnson2015]
FFR_KEYS = frozenset({
    "ffr", "ffr_drift_corrected", "ffr_plateau", "ffr_plateau_drift_corrected",
})  # fmt: skip
#: Where the noise of each key was published; see ``indices/retest.py``, decision 0073.
SOURCES = (
    (("ffr", "resting_pd_pa"), "[Johnson2015]"),
    (("full_cycle_ratio", "diastolic_ratio", "late_diastolic_ratio"), "[TwoWires2020]"),
    (("pullback",), "[Sonck2022]"), (("q_", "r_micro_"), "[vantVeer2016]"),
    (("collateral",), "[Thermal2014]"),
)  # fmt: skip
GENERAL_SOURCE = "[Gallinoro2023]"
COVERAGE_95 = 1.959964  # normal quantile 0.975
ROOT_TWO = 2**0.5  # of two readings against one


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
    middle = (earlier.value + later.value) / 2
    published = (
        FFR_DIFFERENCE_SD if earlier.key in FFR_KEYS else ROOT_TWO * retest_sd(earlier.key, middle)
    )
    if published == 0.0:
        return Change(difference=difference, noise95=None, word="cannot say", source="")
    own = sum(_half(i) ** 2 for i in (earlier, later)) ** 0.5
    noise = max(COVERAGE_95 * published, own)
    word: ChangeWord = (
        "larger than retest noise" if abs(difference) > noise else "within retest noise"
    )
    return Change(difference=difference, noise95=noise, word=word, source=_source(earlier.key))


def _source(key: str) -> str:
    return next((s for starts, s in SOURCES if key.startswith(starts)), GENERAL_SOURCE)


def _half(index: Index) -> float:
    if index.interval95 is None:
        return 0.0
    return (index.interval95[1] - index.interval95[0]) / 2
