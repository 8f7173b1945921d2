"""Rest: where the sheet allows it, and what speaks against it, whoever chose it."""

from collections.abc import Sequence
from dataclasses import replace

from arteriole.episodes import Episode
from arteriole.episodes.find import PLACE_S
from arteriole.episodes.rest import (
    TO_THE_ACT_S,
    Disturbance,
    RestDoubt,
    choose_rest,
    doubt_of,
    find_rest,
)
from arteriole.indices import Unrest
from arteriole.recording import Sheet
from arteriole.study.measure import Measurement

WORDS = {"flush": "a flush", "injection": "an injection", "infusion": "an infusion"}
ON_PA = "what took Pa away, as a flush or injection does"
PLACING = "the wire left the guide tip"


def with_true_rest(
    measurement: Measurement, episodes: tuple[Episode, ...], sheet: Sheet
) -> tuple[Episode, ...]:
    """Return the episodes with rest where the sheet allows it.

    A spasm test, and the nitrate that ends it, change the artery: rest lies before the first dose
    where it can be proven there. The pressures alone do not show small doses. Decision 0038.
    """
    found = measurement.found
    rest = next((e for e in episodes if e.kind == "rest" and e.source == "found"), None)
    if rest is None:
        return episodes
    doses = [s.time_s for s in sheet.spasm_test if s.time_s is not None]
    nitrate = sheet.nitrate.time_s
    first = min([t for t in (*doses, nitrate) if t is not None], default=None)
    if first is None or rest.end_s <= first:
        return episodes
    placed = _placed_s(episodes) or 0.0
    spans = [(e.start_s, e.end_s) for e in episodes if e.kind in {"flush", "infusion"}]
    spans += found.guide_s
    earlier = choose_rest(
        found.trend, spans, placed + PLACE_S, first - TO_THE_ACT_S, acts_seen=found.cold_tells
    ) if doses else None  # fmt: skip
    ends = [b for a, b in spans if a < rest.end_s]
    again = find_rest(found.trend, ends, placed + PLACE_S, rest.end_s, nitrate_s=nitrate)
    chosen = earlier if earlier is not None and not earlier[2] else again
    if chosen is None:
        return episodes
    moved = replace(rest, start_s=chosen[0], end_s=chosen[1])
    return tuple(moved if e is rest else e for e in episodes)


def rest_doubt(
    measurement: Measurement, episodes: Sequence[Episode], sheet: Sheet
) -> RestDoubt | None:
    """Return what speaks against the effective rest, None where there is none."""
    rest = next((e for e in episodes if e.kind == "rest"), None)
    if rest is None:
        return None
    rows = [
        Disturbance(start_s=e.start_s, end_s=e.end_s, words=WORDS[e.kind])
        for e in episodes if e.kind in WORDS
    ]  # fmt: skip
    known = [(d.start_s, d.end_s) for d in rows]
    rows += [
        Disturbance(start_s=a, end_s=b, words=ON_PA)
        for a, b in measurement.found.guide_s
        if not any(a < end and start < b for start, end in known)
    ]
    placed = _placed_s(episodes)
    if rest.source == "found" and placed is not None and not any(
        d.start_s < rest.end_s for d in rows
    ):  # fmt: skip
        rows.append(Disturbance(start_s=placed, end_s=placed, words=PLACING))
    doubt = doubt_of(
        measurement.found.trend, (rest.start_s, rest.end_s), rows, measurement.grid.start_s,
        nitrate_s=sheet.nitrate.time_s,
    )  # fmt: skip
    if measurement.found.trend.cut:  # how far it moves is a value, and there is none
        return RestDoubt(words={k: v for k, v in doubt.words.items() if k != "moving"})
    return doubt


def with_note(episodes: tuple[Episode, ...], doubt: RestDoubt | None) -> tuple[Episode, ...]:
    """Return the episodes with the faults of a found rest in its note."""
    if doubt is None:
        return episodes
    return tuple(
        replace(e, note=", ".join(doubt.faults)) if e.kind == "rest" and e.source == "found" else e
        for e in episodes
    )


def unrest_of(doubt: RestDoubt | None) -> Unrest | None:
    """Return the doubt of rest as evidence, None where rest is proven or missing."""
    if doubt is None or not doubt.faults:
        return None
    return Unrest(
        raised="early" in doubt.faults or "nitrate" in doubt.faults, drift=doubt.drift,
        told="; ".join(doubt.words[f] for f in doubt.faults),
    )  # fmt: skip


def _placed_s(episodes: Sequence[Episode]) -> float | None:
    return max((e.end_s for e in episodes if e.kind == "equalisation"), default=None)
