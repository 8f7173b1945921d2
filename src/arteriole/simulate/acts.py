"""What the operator does, and what befalls the set-up, as data.

A session is a row of acts. Nothing else steers the patient, so the same row gives the same
session whether it is solved at once or while it is being written.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

T = TypeVar("T", bound="Act")
State = Literal["rest", "hyper"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Something that lasts from ``start_s`` to ``end_s``, s from the recording's start."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero(Act):
    """Pa transducer open to air; its offset is taken away at ``zeroed_s``."""

    zeroed_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WireIntoGuide(Act):
    """The sensor goes from air through the guide to its tip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Equalise(Act):
    """Pd is set to Pa's mean; ``error_mmhg`` is what stays wrong."""

    error_mmhg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Advance(Act):
    """The sensor goes from the guide's tip to the measuring site."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flush(Act):
    """Fluid through the guide."""

    agent: Literal["saline", "contrast"] = "saline"
    volume_ml: float = 4.0
    pa: Literal["flat", "spike", "none"] = "flat"
    lost_s: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inject(Act):
    """A cold bolus by hand. ``pieces``: (start, end, share of the volume), in s and 1."""

    state: State
    index: int
    volume_ml: float
    quality: Literal["good", "slow", "inhomogeneous", "early", "small"] = "good"
    pieces: tuple[tuple[float, float, float], ...]
    pa: Literal["flat", "spike", "none"] = "flat"
    lost_s: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Adenosine(Act):
    """Drug into a vein from start to end, or as one dose into the artery at the start."""

    route: Literal["intravenous", "intracoronary"] = "intravenous"


@dataclass(frozen=True, slots=True, kw_only=True)
class Infuse(Act):
    """Saline through an infusion catheter; the sensor comes back to its tip at ``back_s``."""

    state: State
    rate_ml_min: float
    back_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pullback(Act):
    """The sensor is drawn back by hand; ``path``: (share of time, share of length left)."""

    path: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftCheck(Act):
    """Sensor at the guide's tip again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window(Act):
    """Nothing is done; the quiet stretch the truth is taken from."""

    state: State


@dataclass(frozen=True, slots=True, kw_only=True)
class Provoke(Act):
    """A spasm agent into the artery and the script of its effect (teaching only)."""

    agent: str
    dose_ug: float
    narrowing: float  # of the diameter, at the worst
    tone: float  # factor on microvascular resistance, at the worst
    symptoms: Literal["none", "usual", "other"] = "none"
    ecg_change: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Wedge(Act):
    """The guide blocks the ostium: a resistance before the tip."""

    resistance_mmhg_s_ml: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Migrate(Act):
    """The wire slips back to ``to`` of its first depth."""

    to: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFault(Act):
    """The fluid line changes: air or clot damps it, an open line rings."""

    kind: Literal["damped_pa", "ringing", "air"]
    line_hz: float
    damping: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Whip(Act):
    """The wire strikes the wall at each upstroke; ``gain`` in mmHg per 1000 mmHg/s."""

    gain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost(Act):
    """Samples of one channel do not arrive."""

    channel: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip(Act):
    """A channel's range ends at ``low`` and ``high``."""

    channel: str
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineShift(Act):
    """The temperature channel moves by ``shift_c`` and stays."""

    shift_c: float


def of_kind(acts: Sequence[Act], kind: type[T]) -> tuple[T, ...]:
    """Return the acts of one kind, in order."""
    return tuple(a for a in acts if isinstance(a, kind))
