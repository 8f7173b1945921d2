"""A continuous recording: channels of their own rates, and where they came from."""

from dataclasses import dataclass, field

from arteriole.errors import UnreadableRecording
from arteriole.recording.channel import Channel
from arteriole.recording.finding import Finding
from arteriole.recording.mark import Mark
from arteriole.recording.sheet import Sheet


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recording:
    """What one file holds; samples are never changed after reading.

    ``sheet`` and ``marks`` are only set by containers that carry them. ``sha256`` is the hash of
    the file's bytes (of all files, for formats of several).
    """

    name: str
    sha256: str
    format: str
    channels: tuple[Channel, ...]
    findings: tuple[Finding, ...] = ()
    sheet: Sheet | None = None
    marks: tuple[Mark, ...] = ()
    simulated: bool = False
    extras: dict[str, str] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        """Return whether a channel of this name is there."""
        return any(c.name == name for c in self.channels)

    def channel(self, name: str) -> Channel:
        """Return the channel of this name.

        Raises
        ------
        UnreadableRecording
            No such channel; the message lists the ones there are.
        """
        for c in self.channels:
            if c.name == name:
                return c
        there = ", ".join(c.name for c in self.channels) or "none"
        raise UnreadableRecording(
            f"Recording {self.name!r} has no channel {name!r}; it has: {there}. "
            f"Name the column with --map {name}=COLUMN."
        )

    @property
    def duration_s(self) -> float:
        """Seconds from 0 to the end of the longest channel."""
        return max((c.start_s + c.duration_s for c in self.channels), default=0.0)
