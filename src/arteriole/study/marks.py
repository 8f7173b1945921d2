"""Marks override what is found; the result says which came from whom."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from arteriole.episodes.episode import Episode
from arteriole.recording.mark import Mark

#: Of these a study has one; a mark replaces every found one.
SINGLE = frozenset({"zeroing", "equalisation", "rest", "hyperaemia", "pullback", "drift_check"})
#: A mark this near to a found injection speaks of that injection, s. Injections are several
#: seconds apart, and a person's click is good to about one; our choice, decision 0005.
SAME_INJECTION_S = 2.5


def marked_episodes(found: Sequence[Episode], marks: Iterable[Mark]) -> tuple[Episode, ...]:
    """Return the episodes with the marked stretches in place of the found ones, by time.

    A marked stretch of a kind of which there is one replaces all found of that kind; of the other
    kinds it replaces those it overlaps. Injections are handled by :func:`injection_marks`.
    """
    stretches = [
        Episode(
            kind=m.kind, start_s=m.start_s, end_s=m.end_s, source="marked",
            note=" ".join(filter(None, (m.label, m.why))),
        )
        for m in marks
        if m.kind != "injection" and m.start_s is not None and m.end_s is not None
        and m.end_s > m.start_s
    ]  # fmt: skip
    kept = [e for e in found if not any(_replaces(s, e) for s in stretches)]
    return tuple(sorted([*kept, *stretches], key=lambda e: (e.start_s, e.end_s, e.kind)))


def _replaces(marked: Episode, found: Episode) -> bool:
    if marked.kind != found.kind:
        return False
    overlap = marked.start_s < found.end_s and found.start_s < marked.end_s
    return overlap or marked.kind in SINGLE


def injection_marks(
    times_s: Sequence[float], marks: Iterable[Mark]
) -> tuple[dict[int, Mark], tuple[Mark, ...]]:
    """Return which mark speaks of which found injection, and the marks of new injections.

    Parameters
    ----------
    times_s : sequence of float
        Start of every found injection, s.
    marks : iterable of Mark
        All marks; those of other kinds are ignored.
    """
    of_found: dict[int, Mark] = {}
    new: list[Mark] = []
    for mark in marks:
        if mark.kind != "injection":
            continue
        time = mark.time_s if mark.time_s is not None else mark.start_s
        if time is None:
            continue
        near = [k for k, t in enumerate(times_s) if abs(t - time) <= SAME_INJECTION_S]
        if near:
            of_found[min(near, key=lambda k: abs(times_s[k] - time))] = mark
        elif mark.verdict != "left out":
            new.append(replace(mark, time_s=time))
    return of_found, tuple(new)
