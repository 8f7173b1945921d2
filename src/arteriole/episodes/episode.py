"""A stretch of the recording with a meaning."""

from dataclasses import dataclass
from typing import Literal

from arteriole.recording.mark import EpisodeKind, mark_id


@dataclass(frozen=True, slots=True, kw_only=True)
class Episode:
    """What happened from ``start_s`` to ``end_s``; ``source`` says who says so.

    ``phase`` is for infusions and pullbacks: in which state they were made.
    """

    kind: EpisodeKind
    start_s: float
    end_s: float
    source: Literal["found", "marked"] = "found"
    note: str = ""
    phase: Literal["rest", "hyperaemia", ""] = ""

    @property
    def id(self) -> str:
        """Identity from kind and time."""
        return mark_id(self.kind, self.start_s)
