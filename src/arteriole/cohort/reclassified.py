"""How many cases of a cohort change side when the gauge is off: what drift costs."""

from collections.abc import Sequence

from arteriole.cohort.share import Share
from arteriole.errors import OptionError
from arteriole.indices.about import is_abnormal
from arteriole.indices.index import Cutoff


def reclassified(
    ratios: Sequence[float],
    pa_mmhg: Sequence[float],
    line: Cutoff,
    *,
    offset_mmhg: float,
    decimals: int = 2,
) -> Share:
    """Return the share of ratios that change side if Pd read too high or too low by an offset.

    Either direction counts, as in [Cook2016]: a drift's sign is not known beforehand. The values
    as printed decide.

    Parameters
    ----------
    ratios, pa_mmhg : sequence of float
        Pd/Pa of each case and its mean Pa, mmHg; same order.
    line : Cutoff
        The line that decides.
    offset_mmhg : float
        Size of the offset, mmHg.
    decimals : int
        As the ratio is printed.

    Raises
    ------
    OptionError
        Rows of different length, or none.
    """
    if len(ratios) != len(pa_mmhg):
        raise OptionError(
            f"{len(ratios)} ratios and {len(pa_mmhg)} pressures were given; one pressure for each "
            "ratio is needed; check the table."
        )
    moved = [
        any(
            is_abnormal(ratio + sign * offset_mmhg / pa, line, decimals)
            != is_abnormal(ratio, line, decimals)
            for sign in (-1.0, 1.0)
        )
        for ratio, pa in zip(ratios, pa_mmhg, strict=True)
    ]
    return Share(hits=sum(moved), of=len(moved))
