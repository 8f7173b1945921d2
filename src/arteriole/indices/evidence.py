"""Everything an index may ask, as plain values: states, beats, injections, flows, gauges."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from arteriole.indices.index import Withheld
from arteriole.recording.settings import Settings
from arteriole.recording.sheet import Sheet
from arteriole.signal.beats import Beats, Flags

State = Literal["rest", "hyperaemia"]
Windows = tuple[tuple[float, float], ...]


def windows_of(start_s: float | None, end_s: float | None) -> Windows:
    """Return one stretch as windows, s; empty where an end is not known."""
    return () if start_s is None or end_s is None else ((start_s, end_s),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressures:
    """Mean pressures and ratios of one state over whole clean beats.

    Means are weighted by beat length, mmHg; ``ratios`` are ``full_cycle_ratio``,
    ``diastolic_ratio``, ``mid_diastolic_ratio``, ``late_diastolic_ratio`` where measured;
    ``ratio_sd`` their standard uncertainties and that of ``pd_pa``; ``window_pa_mmhg`` mean Pa of
    the window that a ratio is taken over. Made from beats by
    :func:`arteriole.indices.means.pressures_of`, or typed.
    """

    pa_mmhg: float
    pd_mmhg: float
    start_s: float | None = None
    end_s: float | None = None
    beats: int | None = None
    pa_systolic_mmhg: float | None = None
    heart_rate_bpm: float | None = None
    ratios: Mapping[str, float] = field(default_factory=dict)
    ratio_sd: Mapping[str, float] = field(default_factory=dict)
    window_pa_mmhg: Mapping[str, float] = field(default_factory=dict)
    middle_s: float | None = None

    @property
    def windows_s(self) -> Windows:
        """Return the stretch the means are taken over, s; empty where it is not known."""
        return windows_of(self.start_s, self.end_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class InjectionEvidence:
    """One injection as an index sees it; left-out ones are there too and widen the interval.

    ``sd_s``: standard uncertainties of ``tmn_s`` by source, s, as in thermo's reading. ``usable``
    says whether it goes into the mean. ``cold_late_s``: by how much the cold passed the catheter's
    tip later than the injectate, with its standard uncertainty; ``beat_factor``: what brings the
    time between the two passages of the cold to a steady flow (1: not known). Pressures: whole
    beats just before the injection.
    """

    label: str
    phase: State
    time_s: float | None = None
    tmn_s: float | None = None
    tmn_onset_s: float | None = None
    sd_s: Mapping[str, float] = field(default_factory=dict)
    cold_late_s: float = 0.0
    cold_late_sd_s: float = 0.0
    beat_factor: float = 1.0
    pa_before_mmhg: float | None = None
    pd_before_mmhg: float | None = None
    beats_before: int | None = None
    verdict: str = "usable"

    @property
    def usable(self) -> bool:
        """Whether it enters the mean: read, and neither to repeat nor left out."""
        return self.tmn_s is not None and self.verdict in {"usable", "look again"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """A gauge reading: Pd minus Pa at the guide tip, mmHg; None = not checked."""

    state: Literal["matched", "off", "not checked"] = "not checked"
    offset_mmhg: float | None = None
    sd_mmhg: float = 0.0
    time_s: float | None = None  # middle of the beats used


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step of Pd's gauge between both checks that explains what they are apart, mmHg."""

    time_s: float
    size_mmhg: float
    sd_mmhg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrest:
    """What speaks against rest.

    ``raised``: flow may still be; ``drift``: by how much Pd/Pa moved over it, 0 where it was still;
    ``told``: both in words that follow "rest".
    """

    raised: bool
    drift: float = 0.0
    told: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowEvidence:
    """One continuous infusion: flow, mL/min, by-source uncertainty, and the pressures meanwhile."""

    phase: State
    q_ml_min: float
    sd_ml_min: Mapping[str, float] = field(default_factory=dict)
    pa_mmhg: float | None = None
    pd_mmhg: float | None = None
    infusion_ml_min: float | None = None
    t_c: float | None = None
    ti_c: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    q_plain_ml_min: float | None = None  # with T as a plain mean over time


@dataclass(frozen=True, slots=True, kw_only=True)
class PullbackEvidence:
    """The pullback's numbers: total drop, gradient index (length known only), and their sds.

    ``drop_beyond``: the drop is truly larger by something between these, for the gauges may have
    moved during the pullback. ``pace_agrees``: a told duration does not speak against the one
    found. What is left out of its form below does not change the draws of other indices.
    """

    state: State
    drop: float
    drop_sd: float
    start_s: float
    end_s: float
    gradient_index: float | None = None
    gradient_index_sd: float | None = None
    max_drop_20mm: float | None = None
    diseased_share: float | None = None
    drop_beyond: tuple[float, float] = field(default=(0.0, 0.0), repr=False)
    place_known: bool = field(default=True, repr=False)
    pace_agrees: bool = field(default=True, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """All that indices rest on.

    ``beats`` every beat of the recording; ``clean`` which may be used, shape (n,);
    ``steady_s`` the steady stretches of hyperaemia; ``plateau`` the means over their clean beats.
    ``lowest_smoothed`` the lowest smoothed Pd/Pa of hyperaemia, when the trace gave one.
    ``typed``: index values from an old report, by key, with their standard uncertainty.
    ``refusals``: why something is missing, by name: "rest", "hyperaemia", "bolus_rest",
    "bolus_hyper", "continuous_rest", "continuous_hyper", "pullback", "pullback_gradient_index",
    "drift", or an index key. ``step``: when Pd's gauge moved at once. ``pa_zero_mmhg``: what Pa
    read open to air. ``zero_moved_s``: by what the pushes on Pd moved the shaft's time zero.
    ``uneven_sd``: what uneven hyperaemia adds to the doubt of its Pd/Pa; ``not_full``: it may not
    have been full, so that what is read in it is a bound. ``irregular``: the rhythm is, from beat
    to beat.
    ``seed`` of the draws, None: a hash of the numbers; a trial that keeps it differs by its
    change, not by chance.
    """

    sheet: Sheet = field(default_factory=Sheet)
    settings: Settings = field(default_factory=Settings)
    beats: Beats | None = None
    clean: Flags | None = None
    rest: Pressures | None = None
    steady_s: tuple[tuple[float, float], ...] = ()
    plateau: Pressures | None = None
    lowest_smoothed: float | None = None
    injections: tuple[InjectionEvidence, ...] = ()
    equalisation: Offset = field(default_factory=Offset)
    drift: Offset = field(default_factory=Offset)
    step: Step | None = None
    flows: tuple[FlowEvidence, ...] = ()
    pullback: PullbackEvidence | None = None
    typed: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    refusals: Mapping[str, Withheld] = field(default_factory=dict)
    pa_zero_mmhg: float | None = None
    uneven_sd: float = 0.0
    not_full: bool = False
    irregular: bool = False
    unrest: Unrest | None = None
    zero_moved_s: float | None = None
    seed: int | None = None
