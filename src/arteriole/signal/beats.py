"""Heart beats as a table of arrays: where they are and what the pressures did in each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples

Indices = npt.NDArray[np.int64]
LEAST_PA_MMHG = 15.0  # below this a ratio is noise; our choice, decision 0032
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beats:
    """Every beat from one pressure foot to the next; all arrays have shape (n,).

    ``start_i``/``end_i``: sample numbers of the foot and of the next foot (half open) on the
    grid; ``peak_i`` systolic peak; ``notch_i`` dicrotic notch (-1: none found); ``on_pd``: the
    beat was found on Pd because Pa was lost. Means are over whole beats, in mmHg, NaN where the
    channel is lost in the beat. ``*_systolic``/``*_diastolic`` are the extremes in the beat.
    ``full_cycle``/``diastolic``/``mid_diastolic``/``late_diastolic``: ratio Pd/Pa per beat, after
    the Pa-Pd delay is aligned (definitions in ``signal/ratios.py``), NaN where not measurable.
    The numerators and denominators of windowed ratios are kept so that a run of beats can give a
    ratio of means: ``pa_dia_mean_mmhg`` etc.
    """

    rate_hz: float
    start_s: Samples
    end_s: Samples
    start_i: Indices
    end_i: Indices
    peak_i: Indices
    notch_i: Indices
    on_pd: Flags
    pa_mean_mmhg: Samples
    pd_mean_mmhg: Samples
    pa_systolic_mmhg: Samples
    pa_diastolic_mmhg: Samples
    pd_systolic_mmhg: Samples
    pd_diastolic_mmhg: Samples
    full_cycle: Samples
    pa_dia_mean_mmhg: Samples
    pd_dia_mean_mmhg: Samples
    pa_mid_mean_mmhg: Samples
    pd_mid_mean_mmhg: Samples
    pa_late_mean_mmhg: Samples
    pd_late_mean_mmhg: Samples
    delay_s: float  # Pd minus Pa arrival used for alignment; + = Pa late; 0 when unknown
    delay_sd_s: float

    @property
    def count(self) -> int:
        """Number of beats."""
        return int(self.start_i.size)

    @property
    def length_s(self) -> Samples:
        """Beat lengths, shape (n,), s."""
        return self.end_s - self.start_s

    @property
    def diastolic(self) -> Samples:
        """Ratio of the means over the whole of diastole, shape (n,), NaN on Pd's beats."""
        return self._ratio(self.pd_dia_mean_mmhg, self.pa_dia_mean_mmhg)

    @property
    def mid_diastolic(self) -> Samples:
        """Ratio of the means over 25 to 75 % of diastole, shape (n,)."""
        return self._ratio(self.pd_mid_mean_mmhg, self.pa_mid_mean_mmhg)

    @property
    def late_diastolic(self) -> Samples:
        """Ratio of the means from 25 % into diastole to 5 ms before its end, shape (n,)."""
        return self._ratio(self.pd_late_mean_mmhg, self.pa_late_mean_mmhg)

    def _ratio(self, pd_mmhg: Samples, pa_mmhg: Samples) -> Samples:
        low = self.on_pd | ~(pa_mmhg >= LEAST_PA_MMHG)
        return np.where(low, np.nan, pd_mmhg / np.where(low, 1.0, pa_mmhg))

    def between(self, start_s: float, end_s: float) -> Flags:
        """Return which beats lie wholly inside the stretch, shape (n,)."""
        return (self.start_s >= start_s) & (self.end_s <= end_s)

    def within(self, windows_s: Sequence[tuple[float, float]]) -> Flags:
        """Return which beats lie wholly inside any of the stretches, shape (n,)."""
        inside = np.zeros(self.count, dtype=bool)
        for start_s, end_s in windows_s:
            inside |= self.between(start_s, end_s)
        return inside
