"""The channels of a recording on one time grid: the grid of Pa."""

from dataclasses import dataclass

from arteriole.recording.channel import Samples


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Signals on Pa's grid; arrays of shape (n,), NaN = lost, None = no such channel.

    Pressures in mmHg as recorded (no offset removed, no delay removed); temperatures in °C as
    recorded; ECG in mV. Sample k lies at ``start_s + k / rate_hz``. Resampling never crosses a
    gap. ``pa_quantum_mmhg`` and ``pd_quantum_mmhg`` are the smallest stored steps (0: unknown).
    """

    rate_hz: float
    start_s: float
    pa_mmhg: Samples
    pd_mmhg: Samples
    temp_c: Samples | None = None
    shaft_c: Samples | None = None
    ecg_mv: Samples | None = None
    pa_quantum_mmhg: float = 0.0
    pd_quantum_mmhg: float = 0.0

    @property
    def samples(self) -> int:
        """Number of samples."""
        return int(self.pa_mmhg.size)

    @property
    def end_s(self) -> float:
        """Time one step after the last sample, s."""
        return self.start_s + self.samples / self.rate_hz

    def index(self, time_s: float) -> int:
        """Return the nearest sample number of a time, clipped to the grid."""
        return min(max(round((time_s - self.start_s) * self.rate_hz), 0), self.samples)

    def time_s(self, index: float) -> float:
        """Return the time of a (fractional) sample number, s."""
        return self.start_s + index / self.rate_hz
