"""The result document as models: the one place that knows its JSON form.

Field names, types and order are the published contract ``arteriole.result/1``; new keys may be
added, none renamed, retyped or dropped.
"""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = "arteriole.result/1"


class Part(BaseModel):
    """Strict and without NaN, the ground of every part."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, populate_by_name=True)


class Software(Part):
    """What computed the result."""

    name: str
    version: str


class ChannelPart(Part):
    """A channel as read."""

    name: str
    unit: str
    rate_hz: float
    missing_fraction: float


class RecordingPart(Part):
    """Which recording."""

    name: str
    sha256: str
    format: str
    duration_s: float
    channels: list[ChannelPart]


class EpisodePart(Part):
    """A stretch with a meaning."""

    kind: Literal[
        "zeroing", "equalisation", "rest", "injection", "hyperaemia", "infusion",
        "pullback", "drift_check", "flush", "unusable",
    ]  # fmt: skip
    start_s: float
    end_s: float
    source: Literal["found", "marked"]
    note: str
    id: str = ""
    phase: str = ""


class InjectionPart(Part):
    """One injection of the row."""

    label: str
    phase: Literal["rest", "hyperaemia"]
    time_s: float
    tmn_s: float | None
    interval95_s: tuple[float, float] | None
    time_zero: Literal["shaft", "pressure", "arrival", "marked"]
    verdict: Literal["usable", "look again", "repeat", "left out"]
    reasons: list[str]
    id: str = ""
    source: Literal["found", "marked"] = "found"
    zero_s: float | None = None
    tmn_onset_s: float | None = None
    sd_s: dict[str, float] = Field(default_factory=dict)
    model: str = ""
    pa_before_mmhg: float | None = None
    pd_before_mmhg: float | None = None
    hyperaemia_state: str | None = None
    features: dict[str, float] = Field(default_factory=dict)


class LikenessPart(Part):
    """How alike the injections of one state are; per cents of their median."""

    phase: Literal["rest", "hyperaemia"]
    read: int
    used: int
    median_s: float | None
    range_percent: float | None
    farthest: str | None
    farthest_percent: float | None
    rule: str


class InfusionPart(Part):
    """One infusion of continuous thermodilution: flow, temperatures, windows and steadiness."""

    phase: Literal["rest", "hyperaemia"]
    start_s: float
    end_s: float
    source: Literal["found", "marked"] = "found"
    infusion_ml_min: float | None
    q_ml_min: float | None
    q_plain_ml_min: float | None
    t_c: float | None
    ti_c: float | None
    t_window_s: tuple[float, float] | None
    ti_window_s: tuple[float, float] | None
    t_sd_c: float | None
    t_climb_c: float | None
    ripple_c: float | None
    blood_before_c: float | None
    blood_after_c: float | None
    steady: bool
    faults: list[str] = Field(default_factory=list)
    sd_ml_min: dict[str, float] = Field(default_factory=dict)


class GaugeReadingPart(Part):
    """One gauge reading; offsets are Pd minus Pa."""

    offset_mmhg: float | None
    ratio: float | None
    lag_s: float | None = None
    state: Literal["matched", "off", "not checked"]
    offset_interval95_mmhg: tuple[float, float] | None = None
    lag_interval95_s: tuple[float, float] | None = None
    gain_interval95: tuple[float, float] | None = None
    gain: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    beats: int = 0


class GaugeStepPart(Part):
    """A step of Pd's gauge that explains the drift: when, and how much, mmHg."""

    time_s: float
    size_mmhg: float
    size_sd_mmhg: float
    start_s: float
    end_s: float


class GaugePart(Part):
    """Equalisation and drift."""

    equalisation: GaugeReadingPart
    drift: GaugeReadingPart
    step: GaugeStepPart | None = None
    pa_zero_mmhg: float | None = None


HyperaemiaWord = Literal["building", "steady", "fading", "not reached"]


class StretchPart(Part):
    """One state of hyperaemia."""

    start_s: float
    end_s: float
    state: HyperaemiaWord


class SignPart(Part):
    """One sign of hyperaemia; present is null when it cannot be judged."""

    name: str
    present: bool | None
    value: float | None
    unit: str
    decisive: bool = True
    source: str = ""


class HyperaemiaPart(Part):
    """The hyperaemia."""

    state: HyperaemiaWord
    states: list[StretchPart]
    start_s: float | None
    end_s: float | None
    signs: list[SignPart]
    range_ratio: float | None = None
    dispersion_percent: float | None = None
    submaximal: bool = False
    unsteady: bool = False
    wave_s: float | None = None


class CutoffPart(Part):
    """A published line and the side of it; side is null where none may be given."""

    name: str
    relation: Literal["<=", "<", ">=", ">"]
    value: float
    side: Literal["above", "below", "at"] | None
    source: str
    note: str = ""


class WithheldPart(Part):
    """Why there is no number, and what to do."""

    reason: str
    do: str


class IndexPart(Part):
    """One index."""

    key: str
    label: str
    value: float | None
    unit: str
    interval95: tuple[float, float] | None
    method: Literal["pressure", "bolus", "continuous"]
    certainty: Literal["clear of the line", "near the line", "cannot say"]
    formula: str
    inputs: dict[str, float]
    windows_s: list[tuple[float, float]]
    beats: int | None
    cutoffs: list[CutoffPart]
    corrected_for: list[str]
    source: str
    withheld: WithheldPart | None
    decimals: int = 2
    shares: dict[str, float] = Field(default_factory=dict)
    alternatives: dict[str, float] = Field(default_factory=dict)
    note: str = ""


class FindingPart(Part):
    """One remark with its place and remedy."""

    code: str
    severity: Literal["note", "caution", "stop"]
    channel: str | None
    start_s: float | None
    end_s: float | None
    message: str
    do: str


class StatementPart(Part):
    """The statement."""

    pattern: Literal[
        "obstructive epicardial", "structural microvascular", "functional microvascular",
        "raised resistance, preserved reserve", "epicardial and microvascular",
        "epicardial spasm", "microvascular spasm", "mixed", "spasm test inconclusive",
        "no abnormality measured", "cannot say",
    ]  # fmt: skip
    sentence: str
    because: list[str]
    not_assessed: list[str]
    rules: str


class FlipPart(Part):
    """What would turn it."""

    what: str
    smallest_change: str
    would_become: str


class NextActPart(Part):
    """What would narrow the doubt."""

    do: str
    gain: str


class HaemodynamicsPart(Part):
    """Rate and pressures of one state."""

    heart_rate_bpm: float | None = None
    pa_mmhg: float | None = None
    pd_mmhg: float | None = None
    pa_systolic_mmhg: float | None = None
    rate_pressure_product: float | None = None


class HarmedBeatPart(Part):
    """A beat that something is held against."""

    start_s: float
    end_s: float
    cause: str
    probability: float


class SpanPart(Part):
    """A damaged or disturbed stretch of one channel."""

    code: str
    channel: str
    start_s: float
    end_s: float
    probability: float


class QualityPart(Part):
    """The quality of every beat: whole beats, those used, causes, harmed beats, stretches."""

    beats: int
    used: int
    causes: dict[str, int]
    harmed: list[HarmedBeatPart]
    spans: list[SpanPart]


class PullbackStepPart(Part):
    """One step of the pullback."""

    start_s: float
    end_s: float
    start_mm: float | None
    end_mm: float | None
    drop: float
    interval95: tuple[float, float]
    centre95_mm: tuple[float, float] | None = None
    would_leave: float | None = None
    would_leave95: tuple[float, float] | None = None


class PullbackPart(Part):
    """The ratio along the pullback."""

    state: Literal["rest", "hyperaemia"]
    start_s: float
    end_s: float
    place: list[float]
    place_unit: Literal["mm", "s"]
    ratio: list[float]
    steps: list[PullbackStepPart]
    evenness: float | None
    sentence: str
    pattern: Literal["focal", "mixed", "diffuse", "no clear drop", "not known"] = "not known"
    certainty: Literal["clear of the line", "near the line", "cannot say"] = "cannot say"
    start_seen: bool = True
    drop_sd: float = 0.006
    mean_speed_mm_s: float | None = None
    evenness95: tuple[float, float] | None = None
    evenness_reason: str = ""
    drop_beyond: tuple[float, float] = (0.0, 0.0)
    gradient_index_sd: float | None = None


class ResultDocument(Part):
    """The result document."""

    model_config = ConfigDict(
        extra="forbid", allow_inf_nan=False, populate_by_name=True, serialize_by_alias=True
    )

    schema_: str = Field(default=SCHEMA, alias="schema", pattern=r"^arteriole\.result/1$")
    software: Software
    recording: RecordingPart
    sheet: dict[str, Any]
    episodes: list[EpisodePart]
    injections: list[InjectionPart]
    gauge: GaugePart
    hyperaemia: HyperaemiaPart
    indices: list[IndexPart]
    findings: list[FindingPart]
    statement: StatementPart
    flips: list[FlipPart]
    next_acts: list[NextActPart]
    caution: str
    simulated: bool = False
    settings: dict[str, Any] = Field(default_factory=dict)
    haemodynamics: dict[str, HaemodynamicsPart] = Field(default_factory=dict)
    pullback: PullbackPart | None = None
    infusions: list[InfusionPart] = Field(default_factory=list)
    beats_used: dict[str, list[tuple[float, float]]] = Field(default_factory=dict)
    likeness: list[LikenessPart] = Field(default_factory=list)
    quality: QualityPart | None = None
