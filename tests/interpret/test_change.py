"""A change is called larger only outside what repeats alone would show."""

import pytest

from arteriole.indices.index import Index
from arteriole.interpret.change import change_between


def index(key, value, half=0.0):
    return Index(
        key=key, label=key, unit="1", method="pressure", value=value,
        interval95=None if value is None else (value - half, value + half),
        certainty="cannot say", formula="", source="",
    )  # fmt: skip


# Johnson 2015: difference of two repeats -0.001, SD 0.018, limits -0.036 to 0.034
@pytest.mark.parametrize(("later", "word"), [
    (0.834, "within retest noise"), (0.836, "larger than retest noise"),
    (0.766, "within retest noise"), (0.764, "larger than retest noise"),
])  # fmt: skip
def test_ffr_moves_outside_the_published_limits_of_agreement(later, word):
    assert change_between(index("ffr", 0.80), index("ffr", later)).word == word


# Side-holes and disengagement 2016: guide engaged 0.87 and 0.85, drawn back 0.83 (group means;
# the differences are printed 0.039 and 0.02)
@pytest.mark.parametrize(("engaged", "apart", "word"), [
    (0.87, -0.04, "larger than retest noise"), (0.85, -0.02, "within retest noise"),
])  # fmt: skip
def test_drawing_the_guide_back_is_seen_where_it_moves_ffr_beyond_a_repeat(engaged, apart, word):
    change = change_between(index("ffr", engaged), index("ffr", 0.83))

    assert change.difference == pytest.approx(apart, abs=1e-3)
    assert change.word == word


def test_a_wide_interval_of_the_recordings_themselves_counts_too():
    change = change_between(index("ffr", 0.80, 0.05), index("ffr", 0.86, 0.05))

    assert change.noise95 == pytest.approx(0.0707, abs=1e-4)
    assert change.word == "within retest noise"


def test_relative_noise_grows_with_the_value():
    small = change_between(index("cfr_bolus", 1.0), index("cfr_bolus", 1.0))
    large = change_between(index("cfr_bolus", 3.0), index("cfr_bolus", 3.0))

    assert large.noise95 == pytest.approx(3 * small.noise95)


@pytest.mark.parametrize("pair", [("ffr", None, 0.8), ("ffr", 0.8, None)])
def test_a_withheld_value_is_never_compared(pair):
    key, a, b = pair

    assert change_between(index(key, a), index(key, b)).word == "cannot say"


def test_two_methods_never_meet():
    change = change_between(index("cfr_bolus", 2.0), index("cfr_continuous", 3.0))

    assert change.difference is None


def test_without_published_repeatability_nothing_is_said():
    change = change_between(index("pullback_drop", 2.0), index("pullback_drop", 4.0))

    assert (change.difference, change.word) == (2.0, "cannot say")
