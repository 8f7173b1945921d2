"""The quality of every beat, for the result: what is held against which, and how surely."""

from collections import Counter

from arteriole.signal.beats import Flags
from arteriole.study.measure import Measurement
from arteriole.study.result import BeatQuality, HarmedBeat

MARKED = "marked"  # a person called the stretch unusable


def beat_quality(measurement: Measurement, clean: Flags) -> BeatQuality:
    """Return the quality of every beat; ``clean`` shape (beats,): used for pressures.

    A beat a person marked unusable counts as surely harmed. A cause without harm to the beat's
    means (a rounded upstroke) leaves it in use and still stands here.
    """
    beats, quality = measurement.beats, measurement.quality
    rows = []
    for k in range(beats.count):
        marked = bool(quality.clean[k]) and not clean[k]
        cause = quality.cause[k] or (MARKED if marked else "")
        if not cause:
            continue
        rows.append(
            HarmedBeat(
                start_s=float(beats.start_s[k]), end_s=float(beats.end_s[k]), cause=cause,
                probability=1.0 if marked else float(quality.probability[k]),
            )
        )  # fmt: skip
    counts = Counter(r.cause for r in rows)
    return BeatQuality(
        beats=beats.count, used=int(clean.sum()), causes=dict(sorted(counts.items())),
        harmed=tuple(rows), spans=quality.spans,
    )  # fmt: skip
