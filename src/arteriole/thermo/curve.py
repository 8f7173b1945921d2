"""One cold bolus seen by the wire: the curve and all that was read from it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from arteriole.recording.channel import Samples
from arteriole.thermo.passage import BeatCourse, Passage

TimeZero = Literal["shaft", "pressure", "arrival", "marked"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TransitCurve:
    """Temperature drop after one injection; arrays shape (n,).

    ``t_s``: seconds from the recording's start; ``drop_c``: °C below the fitted baseline
    (positive = colder); ``fit_c``: the model of the bolus itself; ``slow_c``: the slow wall
    component; ``tail_from_s``: from where the extrapolated tail is used; ``shaft_drop_c`` None
    without a shaft channel.
    """

    t_s: Samples
    drop_c: Samples
    fit_c: Samples
    slow_c: Samples
    tail_from_s: float
    shaft_drop_c: Samples | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BolusReading:
    """Mean transit time of one injection with the evidence it rests on.

    ``time_s``: start of the injection; ``zero_s``: time zero (mean passage at the tip);
    ``tmn_s``: mean distal minus mean proximal passage, s (sensor lag left in);
    ``tmn_onset_s``: the same by the onset convention; ``sd_s``: standard uncertainties of
    ``tmn_s`` by source ("time zero" of this curve, "fill" and "placing" common to a wire's and a
    vessel's, "tail", "noise", "model", "shape"), s; ``features``: named
    numbers for the verdict (peak_drop_c, rise_s, injection_s, humps, baseline_slope_c_s,
    baseline_offset_c, tail_share, fit_error, area_c_s, ...), see ``thermo/verdict.py``.
    ``passage`` and ``course``: cold at tip and sensor and flow over the beats, for the physical
    transit. ``faults``: codes in order of weight (too_slow, two_humps, early, small, baseline,
    late_tail, pa_lost, ...). ``tmn_s`` None: no curve could be read and ``faults`` says why.
    """

    time_s: float
    end_s: float
    zero_s: float | None
    time_zero: TimeZero
    tmn_s: float | None
    tmn_onset_s: float | None
    sd_s: Mapping[str, float] = field(default_factory=dict)
    features: Mapping[str, float] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    model: str = ""
    curve: TransitCurve | None = None
    passage: Passage | None = None
    course: BeatCourse | None = None
