"""Gauge check: what two sensors at the same place say of each other."""

from dataclasses import dataclass
from typing import Literal

GaugeState = Literal["matched", "off", "not checked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeReading:
    """Pd against Pa at the guide tip. Offsets are Pd minus Pa, mmHg.

    ``offset_sd_mmhg`` is the standard uncertainty of the offset; ``gain`` the slope of Pd on Pa
    within beats; ``lag_s`` how far Pd runs ahead (+) of Pa, with ``lag_sd_s``. ``start_s`` and
    ``end_s`` bound the beats used. All None when not checked.
    """

    state: GaugeState = "not checked"
    offset_mmhg: float | None = None
    offset_sd_mmhg: float | None = None
    ratio: float | None = None
    gain: float | None = None
    lag_s: float | None = None
    lag_sd_s: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    beats: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Equalisation at the start and drift at the end."""

    equalisation: GaugeReading = GaugeReading()
    drift: GaugeReading = GaugeReading()
