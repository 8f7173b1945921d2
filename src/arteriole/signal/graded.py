"""What is wrong where: spans on channels, flags per beat, and findings."""

from dataclasses import dataclass

from arteriole.recording.channel import Samples
from arteriole.recording.finding import Finding
from arteriole.signal.beats import Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A damaged or disturbed stretch: what, on which channel, where, how sure (0 to 1)."""

    code: str
    channel: str
    start_s: float
    end_s: float
    probability: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Quality:
    """The verdict on every beat and every stretch.

    ``pa_ok``/``pd_ok``: shape (beats,), whether that channel's whole-beat values may be used;
    ``shape_ok``: whether the beat's shape (feet, notch, instantaneous ratio) may be used;
    ``regular``: not ectopic, not post-ectopic. ``cause``: shape (beats,), code of the worst
    fault or "". ``probability``: shape (beats,), probability that the beat is damaged.
    """

    pa_ok: Flags
    pd_ok: Flags
    shape_ok: Flags
    regular: Flags
    cause: tuple[str, ...]
    probability: Samples
    spans: tuple[Span, ...]
    findings: tuple[Finding, ...]

    @property
    def clean(self) -> Flags:
        """Beats fit for every pressure index."""
        return self.pa_ok & self.pd_ok & self.regular
