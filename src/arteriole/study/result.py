"""The result of one study: everything the result document carries, as frozen values."""

from dataclasses import dataclass, field
from typing import Literal

from arteriole.episodes.episode import Episode
from arteriole.episodes.gauge import Gauge
from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.episodes.pullback_trace import PullbackTrace
from arteriole.indices.index import Index
from arteriole.interpret.statement import Flip, NextAct, Statement
from arteriole.recording.finding import Finding
from arteriole.recording.mark import Verdict
from arteriole.recording.settings import Settings
from arteriole.recording.sheet import Sheet
from arteriole.signal.graded import Span
from arteriole.thermo.continuous import ContinuousReading
from arteriole.thermo.curve import BolusReading


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSummary:
    """A channel as it was read."""

    name: str
    unit: str
    rate_hz: float
    missing_fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSummary:
    """The recording's identity."""

    name: str
    sha256: str
    format: str
    duration_s: float
    channels: tuple[ChannelSummary, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Injection:
    """One injection of the row, with verdict. ``reading`` holds the curve for the figures."""

    id: str
    label: str
    phase: Literal["rest", "hyperaemia"]
    time_s: float
    tmn_s: float | None
    interval95_s: tuple[float, float] | None
    time_zero: str
    verdict: Verdict
    reasons: tuple[str, ...]
    source: Literal["found", "marked"]
    reading: BolusReading
    pa_before_mmhg: float | None = None  # whole beats just before the injection
    pd_before_mmhg: float | None = None
    hyperaemia_state: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Infusion:
    """One infusion of continuous thermodilution; ``reading`` says flow, windows and faults."""

    phase: Literal["rest", "hyperaemia"]
    start_s: float
    end_s: float
    source: Literal["found", "marked"]
    reading: ContinuousReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How alike the injections of one state are.

    Per cents are of the median; None with fewer than two used. ``used`` of ``read`` injections
    enter the mean; ``range_percent`` is their largest less their smallest Tmn; ``farthest`` is
    the one read that lies farthest from the median of those used, by ``farthest_percent``.
    """

    phase: Literal["rest", "hyperaemia"]
    read: int
    used: int
    median_s: float | None
    range_percent: float | None
    farthest: str | None
    farthest_percent: float | None
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HarmedBeat:
    """A beat that something is held against: its cause, and how likely it is damaged (0 to 1)."""

    start_s: float
    end_s: float
    cause: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatQuality:
    """How many whole beats there are, how many are used for pressures, and the harmed ones.

    ``causes``: beats by the cause of their harm; ``spans``: damaged or disturbed stretches.
    """

    beats: int
    used: int
    causes: dict[str, int]
    harmed: tuple[HarmedBeat, ...]
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Haemodynamics:
    """Heart rate and pressures of one state; they stand beside CFR."""

    heart_rate_bpm: float | None = None
    pa_mmhg: float | None = None
    pd_mmhg: float | None = None
    pa_systolic_mmhg: float | None = None
    rate_pressure_product: float | None = None  # mmHg/min


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """One study, graded. Same arguments, same bytes."""

    version: str
    recording: RecordingSummary
    sheet: Sheet
    settings: Settings
    simulated: bool
    episodes: tuple[Episode, ...]
    injections: tuple[Injection, ...]
    gauge: Gauge
    hyperaemia: Hyperaemia
    indices: tuple[Index, ...]
    findings: tuple[Finding, ...]
    statement: Statement
    flips: tuple[Flip, ...]
    next_acts: tuple[NextAct, ...]
    haemodynamics: dict[str, Haemodynamics] = field(default_factory=dict)
    pullback: PullbackTrace | None = None
    infusions: tuple[Infusion, ...] = ()
    beats_used: dict[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)
    likeness: tuple[Likeness, ...] = ()
    quality: BeatQuality | None = None  # None where there was no recording
    pa_zero_mmhg: float | None = None  # what Pa read open to air; None where no zeroing was seen

    def index(self, key: str) -> Index:
        """Return the index of this key.

        Raises
        ------
        KeyError
            No such key in the result.
        """
        for one in self.indices:
            if one.key == key:
                return one
        raise KeyError(key)

    @property
    def all_withheld(self) -> bool:
        """Whether no index has a value."""
        return all(i.value is None for i in self.indices)
