"""Every beat's quality is in the result: cause and probability, a person's word included."""

from types import SimpleNamespace

import numpy as np

from arteriole.study.beats import beat_quality


def measured(cause, probability, clean):
    n = len(cause)
    start = np.arange(n, dtype=float)
    return SimpleNamespace(
        beats=SimpleNamespace(count=n, start_s=start, end_s=start + 0.9),
        quality=SimpleNamespace(
            cause=cause, probability=np.array(probability), clean=np.array(clean), spans=()
        ),
    )


def test_causes_are_counted_and_each_harmed_beat_has_its_probability():
    one = measured(("", "ectopy", "pa_damped"), [0.02, 1.0, 0.93], [True, False, True])
    got = beat_quality(one, np.array([True, False, True]))

    assert (got.beats, got.used, got.causes) == (3, 2, {"ectopy": 1, "pa_damped": 1})
    assert [(b.start_s, b.cause, b.probability) for b in got.harmed] == [
        (1.0, "ectopy", 1.0), (2.0, "pa_damped", 0.93),
    ]  # fmt: skip


def test_a_beat_marked_unusable_is_harmed_by_a_persons_word():
    got = beat_quality(measured(("", ""), [0.0, 0.0], [True, True]), np.array([True, False]))

    assert got.causes == {"marked": 1}
    assert got.harmed[0].probability == 1.0
