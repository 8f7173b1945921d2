"""Of what a study has one and may hold several: which is read, and that this is told."""

from collections.abc import Sequence
from dataclasses import replace

from arteriole.episodes import Episode
from arteriole.episodes.gauge_check import reading
from arteriole.recording import Finding, Settings
from arteriole.study.measure import Measurement

#: At least so much of a check must be left, s; our choice, decision 0042.
LEAST_S = 4.0
AROUND_S = 1.0  # a mark is put to about a second; decision 0005


def read_one(episodes: Sequence[Episode], kind: str) -> Episode | None:
    """Return the one of a kind that is read: the first; of drift checks that after the pullback.

    The first pullback starts where hyperaemia was read, and the first check after it is the one
    nearest to what was measured: what the gauges do later says nothing of that. Decision 0097.
    """
    rows = sorted((e for e in episodes if e.kind == kind), key=lambda e: e.start_s)
    if kind == "drift_check":
        drawn = read_one(episodes, "pullback")
        after = [e for e in rows if drawn is None or e.start_s > drawn.end_s - AROUND_S]
        rows = after or rows
    return rows[0] if rows else None


def without_overlap(episodes: tuple[Episode, ...]) -> tuple[Episode, ...]:
    """Return the episodes, none found lying both in the pullback and at the guide.

    A mark at the guide ends a found pullback there, and a marked pullback lets a found check begin
    after it: the sensor was at one place at a time.
    """
    marked = [e for e in episodes if e.source == "marked"]
    checks = [e.start_s for e in marked if e.kind == "drift_check"]
    ends = [e.end_s for e in marked if e.kind == "pullback"]

    def kept(e: Episode) -> Episode:
        if e.source == "found" and e.kind == "pullback":
            stop = min([e.end_s, *(s for s in checks if e.start_s < s < e.end_s)])
            return replace(e, end_s=stop)
        if e.source == "found" and e.kind == "drift_check":
            start = max([e.start_s, *(s for s in ends if e.start_s < s < e.end_s - LEAST_S)])
            return replace(e, start_s=start)
        return e

    return tuple(kept(e) for e in episodes)


def told(
    measurement: Measurement, episodes: Sequence[Episode], settings: Settings
) -> tuple[Finding, ...]:
    """Return a caution where a pullback or a drift check was made more than once."""
    found = []
    pulls = [e for e in episodes if e.kind == "pullback"]
    first = read_one(episodes, "pullback")
    if first is not None and len(pulls) > 1:
        others = ", ".join(_at(e) for e in pulls if e is not first)
        found.append(_caution(
            "pullback_repeated", first,
            f"The wire was drawn back {len(pulls)} times; the first, {_at(first)}, is read, for it "
            f"starts where hyperaemia was read. Not read: {others}.",
            "Mark only the pullback that is to be read.",
        ))  # fmt: skip
    checks = [e for e in episodes if e.kind == "drift_check"]
    used = read_one(episodes, "drift_check")
    if used is None or len(checks) < 2:
        return tuple(found)

    def offset(e: Episode) -> float | None:
        return reading(
            measurement.beats, measurement.quality, e.start_s, e.end_s, settings
        ).offset_mmhg

    base = offset(used)
    read = [(e, offset(e)) for e in checks if e is not used]
    apart = [abs(x - base) for _, x in read if x is not None and base is not None]
    differ = max(apart, default=0.0) > settings.drift_off_mmhg
    if not differ and all(e.source == "found" for e in checks):
        return tuple(found)
    others = ", ".join(f"{_at(e)}{_mmhg(x)}" for e, x in read)
    more = ""
    if differ:
        more = (
            f" They differ by {max(apart):.1f} mmHg: the gauges moved in between, or a sensor was "
            "not at the guide tip."
        )
    found.append(_caution(
        "drift_check_repeated", used,
        f"The gauges were compared {len(checks)} times at the end; {_at(used)}{_mmhg(base)} is "
        f"read, as the first after the pullback. Not read: {others}.{more}",
        "Keep only the check with both sensors at the guide tip.",
    ))  # fmt: skip
    return tuple(found)


def _at(e: Episode) -> str:
    return f"{e.start_s:.0f} to {e.end_s:.0f} s"


def _mmhg(offset: float | None) -> str:
    return "" if offset is None else f" ({offset:+.1f} mmHg)"


def _caution(code: str, at: Episode, message: str, do: str) -> Finding:
    return Finding(
        code=code, severity="caution", channel="pd", start_s=at.start_s, end_s=at.end_s,
        message=message, do=do,
    )  # fmt: skip
