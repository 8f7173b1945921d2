"""What a person marked on a recording; a mark overrides what is found."""

from dataclasses import dataclass
from typing import Literal

EpisodeKind = Literal[
    "zeroing", "equalisation", "rest", "injection", "hyperaemia", "infusion",
    "pullback", "drift_check", "flush", "unusable",
]  # fmt: skip
Verdict = Literal["usable", "look again", "repeat", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A stretch (``start_s``, ``end_s``) or an instant (``time_s``), s from the start.

    ``verdict`` and ``why`` are for injections: a person's word stands above the computed one.
    ``id`` derives from kind and time, see :func:`mark_id`.
    """

    kind: EpisodeKind
    start_s: float | None = None
    end_s: float | None = None
    time_s: float | None = None
    label: str | None = None
    verdict: Verdict | None = None
    why: str | None = None


def mark_id(kind: str, time_s: float) -> str:
    """Return the identity of an episode or injection: its kind and its time to 0.1 s."""
    return f"{kind}@{time_s:.1f}"
