"""One signal on one uniform grid."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.errors import UnreadableRecording

Samples = npt.NDArray[np.float64]

#: Channel names of the contract with their units. Others are kept, not used.
UNITS = {"pa": "mmHg", "pd": "mmHg", "temp": "°C", "shaft_temp": "°C", "ecg": "mV"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """A read-only float64 signal on a uniform grid; NaN marks a lost sample.

    ``values`` shape (n,); ``quantum`` is the smallest stored step in ``unit`` (0.0: unknown or
    float). The sample k lies at ``start_s + k / rate_hz``.
    """

    name: str
    unit: str
    rate_hz: float
    values: Samples
    start_s: float = 0.0
    quantum: float = 0.0

    def __post_init__(self) -> None:
        """Freeze the samples and refuse what is no signal."""
        if not (np.isfinite(self.rate_hz) and self.rate_hz > 0):
            raise UnreadableRecording(
                f"Channel {self.name!r} has a sampling rate of {self.rate_hz} Hz; a positive "
                "number is needed. Check the file's header or give rate_hz on the sheet."
            )
        values = np.asarray(self.values, dtype=np.float64)
        if values.ndim != 1:
            raise UnreadableRecording(
                f"Channel {self.name!r} has {values.ndim} dimensions; a row of samples is needed."
            )
        if values is self.values and values.flags.writeable:
            values = values.copy()
        values.flags.writeable = False
        object.__setattr__(self, "values", values)

    @property
    def duration_s(self) -> float:
        """Seconds from the first sample to one step after the last."""
        return self.values.size / self.rate_hz

    @property
    def missing_fraction(self) -> float:
        """Share of lost samples, 0 to 1."""
        return float(np.isnan(self.values).mean()) if self.values.size else 1.0

    def times_s(self) -> Samples:
        """Return the time of every sample, shape (n,), s from the recording's start."""
        return self.start_s + np.arange(self.values.size) / self.rate_hz
