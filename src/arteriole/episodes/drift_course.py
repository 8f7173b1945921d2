"""When the gauge drifted: the offset at any time under each way it may have gone."""

from dataclasses import dataclass
from typing import Literal

from arteriole.episodes.gauge import Gauge

Course = Literal["even", "early step", "late step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetAt:
    """Offsets of Pd minus Pa at one time, mmHg, if the drift was even, early or late.

    Two checks cannot tell these apart: ``lowest_mmhg`` and ``highest_mmhg`` bound them all.
    """

    time_s: float
    even_mmhg: float
    early_step_mmhg: float
    late_step_mmhg: float

    @property
    def lowest_mmhg(self) -> float:
        """Least of the three."""
        return min(self.even_mmhg, self.early_step_mmhg, self.late_step_mmhg)

    @property
    def highest_mmhg(self) -> float:
        """Greatest of the three."""
        return max(self.even_mmhg, self.early_step_mmhg, self.late_step_mmhg)


def offset_at(gauge: Gauge, time_s: float) -> OffsetAt | None:
    """Return the offset at ``time_s`` between both checks; outside them the nearer check's.

    None when either check is missing: one reading says nothing of what lay before it.
    """
    first, last = gauge.equalisation, gauge.drift
    if first.offset_mmhg is None or last.offset_mmhg is None:
        return None
    if first.end_s is None or last.start_s is None or last.start_s <= first.end_s:
        return None
    share = min(max((time_s - first.end_s) / (last.start_s - first.end_s), 0.0), 1.0)
    begin, end = first.offset_mmhg, last.offset_mmhg
    return OffsetAt(
        time_s=time_s,
        even_mmhg=begin + share * (end - begin),
        early_step_mmhg=end if share > 0.0 else begin,
        late_step_mmhg=begin if share < 1.0 else end,
    )
