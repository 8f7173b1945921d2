"""Something wrong or worth knowing in a recording, with its place and its remedy."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "caution", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One remark on a stretch of one channel.

    ``start_s`` and ``end_s`` are seconds from the recording's start; both None means the whole
    recording. ``do`` says what a person can do about it; it never advises a dose or a treatment.
    """

    code: str
    severity: Severity
    channel: str | None
    start_s: float | None
    end_s: float | None
    message: str
    do: str
