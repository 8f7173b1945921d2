"""The steadiness line by what the sheet says of the drug: when it was started, and by which way."""

from collections.abc import Sequence

from arteriole.episodes.hyperaemia import Stretch

BEFORE_EFFECT_S = 180.0  # a start longer before any effect belongs to another run; decision 0041
#: From the start of a drug into a vein to a tenth of its effect; decision 0036.
VEIN_TO_EFFECT_S = 13.0
BY_VEIN = "intravenous"


def with_drug_start(
    states: Sequence[Stretch], drug_start_s: float | None, route: str | None = None
) -> tuple[Stretch, ...]:
    """Return the line with building begun where the drug was started.

    Vessels widen for some seconds before Pd/Pa shows it, so signals alone begin too late. A start
    after the first seen effect, or ``BEFORE_EFFECT_S`` or more before it, is another run's.

    Parameters
    ----------
    states : sequence of Stretch
        As found in the signals.
    drug_start_s : float or None
        On the sheet, in seconds of the recording.
    route : str or None
        On the sheet. Without a start, a drug given into a vein is taken to have been started
        ``VEIN_TO_EFFECT_S`` before its effect shows.
    """
    rows = sorted(states, key=lambda s: s.start_s)
    if not rows:
        return ()
    seen = rows[0].start_s
    if drug_start_s is None:
        if (route or "").strip().lower() not in {BY_VEIN, "iv", "i.v."}:
            return tuple(rows)
        drug_start_s = max(seen - VEIN_TO_EFFECT_S, 0.0)
    if not 0.0 < seen - drug_start_s < BEFORE_EFFECT_S:
        return tuple(rows)
    if rows[0].state in {"building", "not reached"}:
        first = Stretch(start_s=drug_start_s, end_s=rows[0].end_s, state=rows[0].state)
        return (first, *rows[1:])
    return (Stretch(start_s=drug_start_s, end_s=seen, state="building"), *rows)
