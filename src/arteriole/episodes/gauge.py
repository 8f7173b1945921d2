"""Gauge check: what two sensors at the same place say of each other."""

from dataclasses import dataclass
from typing import Literal

COVERAGE_95 = 1.959964  # normal quantile 0.975

GaugeState = Literal["matched", "off", "not checked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeReading:
    """Pd against Pa at the guide tip. Offsets are Pd minus Pa, mmHg.

    ``offset_sd_mmhg`` is the standard uncertainty of the offset; ``gain`` the slope of Pd on Pa
    within beats, with ``gain_sd``; ``lag_s`` how far Pd runs ahead (+) of Pa, with ``lag_sd_s``.
    ``start_s`` and ``end_s`` bound the beats used. All None when not checked.
    """

    state: GaugeState = "not checked"
    offset_mmhg: float | None = None
    offset_sd_mmhg: float | None = None
    ratio: float | None = None
    gain: float | None = None
    gain_sd: float | None = None
    lag_s: float | None = None
    lag_sd_s: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    beats: int = 0

    @property
    def offset_interval95_mmhg(self) -> tuple[float, float] | None:
        """Return the 95 % interval of the offset, mmHg."""
        return _interval95(self.offset_mmhg, self.offset_sd_mmhg)

    @property
    def gain_interval95(self) -> tuple[float, float] | None:
        """Return the 95 % interval of the gain."""
        return _interval95(self.gain, self.gain_sd)

    @property
    def lag_interval95_s(self) -> tuple[float, float] | None:
        """Return the 95 % interval of the lag, s."""
        return _interval95(self.lag_s, self.lag_sd_s)


def _interval95(value: float | None, sd: float | None) -> tuple[float, float] | None:
    if value is None or sd is None:
        return None
    return value - COVERAGE_95 * sd, value + COVERAGE_95 * sd


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStep:
    """When Pd's gauge moved at once, and by how much, mmHg.

    ``start_s`` and ``end_s`` bound the moment: end and start of the clean beats beside it.
    """

    time_s: float
    size_mmhg: float
    size_sd_mmhg: float
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Equalisation at the start, drift at the end, and the step that explains it, if one does."""

    equalisation: GaugeReading = GaugeReading()
    drift: GaugeReading = GaugeReading()
    step: GaugeStep | None = None
