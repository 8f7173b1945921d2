"""The steadiness line when the sheet says when the drug was started."""

from collections.abc import Sequence

from arteriole.episodes.hyperaemia import Stretch

BEFORE_EFFECT_S = 180.0  # a start longer before any effect belongs to another run; decision 0041


def with_drug_start(states: Sequence[Stretch], drug_start_s: float | None) -> tuple[Stretch, ...]:
    """Return the line with building begun where the drug was started.

    Vessels widen for some seconds before Pd/Pa shows it, so signals alone begin too late. A start
    after the first seen effect, or ``BEFORE_EFFECT_S`` or more before it, changes nothing.
    ``drug_start_s`` is in seconds of the recording, None where not recorded.
    """
    rows = sorted(states, key=lambda s: s.start_s)
    if drug_start_s is None or not rows:
        return tuple(rows)
    seen = rows[0].start_s
    if not 0.0 < seen - drug_start_s < BEFORE_EFFECT_S:
        return tuple(rows)
    if rows[0].state == "building":
        first = Stretch(start_s=drug_start_s, end_s=rows[0].end_s, state="building")
        return (first, *rows[1:])
    return (Stretch(start_s=drug_start_s, end_s=seen, state="building"), *rows)
