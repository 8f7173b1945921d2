"""Hyperaemia: from when, how steady, and by which published signs."""

from dataclasses import dataclass
from typing import Literal

HyperaemiaState = Literal["building", "steady", "fading", "not reached"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One state from ``start_s`` to ``end_s``."""

    start_s: float
    end_s: float
    state: HyperaemiaState


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One sign of hyperaemia: whether it is there, and the number behind it."""

    name: str
    present: bool | None
    value: float | None
    unit: str
    decisive: bool = True
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hyperaemia:
    """The hyperaemia of a recording; ``state`` is that of its best stretch.

    ``start_s``/``end_s`` bound the steady stretch (None: never steady). ``range_ratio`` and
    ``dispersion_percent`` describe Pd/Pa on the plateau [HyperaemiaSwing2016]; steps and drift of a
    gauge are taken off the range.
    ``submaximal``: it was not full, for injections still opened vessels. ``unsteady``: it was not
    even, or came and went. Both may be True. ``wave_s`` is the period of regular waves in its
    effect, None where none stand out.
    """

    state: HyperaemiaState
    states: tuple[Stretch, ...] = ()
    start_s: float | None = None
    end_s: float | None = None
    signs: tuple[Sign, ...] = ()
    range_ratio: float | None = None
    dispersion_percent: float | None = None
    submaximal: bool = False
    unsteady: bool = False
    wave_s: float | None = None
