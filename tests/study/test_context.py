"""What a step of Pd/Pa means by where it lies: wire in its place, on its way, or at an outlet."""

import pytest

from arteriole.episodes import Episode, Gauge
from arteriole.recording import Finding
from arteriole.study.context import in_context, placed

REST = Episode(kind="rest", start_s=110.0, end_s=130.0, source="found")
INFUSION = Episode(kind="infusion", start_s=140.0, end_s=190.0, source="found")
PULLBACK = Episode(kind="pullback", start_s=330.0, end_s=350.0, source="found")


def step(at_s, severity):
    return Finding(
        code="ratio_step", severity=severity, channel="pd", start_s=at_s, end_s=at_s + 0.8,
        message="Pd/Pa steps.", do="Look.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("at_s", "episodes", "expected"),
    [
        pytest.param(290.0, (REST, PULLBACK), "caution", id="before the pullback"),
        pytest.param(335.0, (REST, PULLBACK), "note", id="on its way out"),
        pytest.param(60.0, (REST, PULLBACK), "note", id="on its way in"),
        pytest.param(290.0, (REST,), "note", id="no pullback is known"),
        pytest.param(185.0, (REST, INFUSION, PULLBACK), "note", id="at the outlet"),
    ],
)
def test_a_step_near_the_end_is_the_way_out_only_from_the_pullback_on(at_s, episodes, expected):
    assert placed(step(at_s, "note"), episodes, Gauge()).severity == expected


def test_a_caution_away_from_both_stays_one():
    assert placed(step(250.0, "caution"), (REST,), Gauge()).severity == "caution"


@pytest.mark.parametrize(
    ("at_s", "told"),
    [
        pytest.param(45.5, True, id="the gauges are set equal"),
        pytest.param(335.0, True, id="a lesion in the pullback"),
        pytest.param(60.0, False, id="on its way in"),
        pytest.param(290.0, False, id="in its place"),
    ],
)
def test_a_step_of_an_act_that_is_told_by_itself_is_not_told_again(at_s, told):
    setting = Episode(kind="equalisation", start_s=45.0, end_s=46.0, source="found")
    left = in_context([step(at_s, "note")], (setting, REST, PULLBACK), Gauge())
    assert (left == ()) is told


def test_a_step_on_the_way_in_asks_for_nothing():
    assert placed(step(60.0, "note"), (REST, PULLBACK), Gauge()).do.startswith("Nothing")


def test_a_note_where_no_act_is_known_keeps_its_question():
    assert placed(step(70.0, "note"), (REST,), Gauge()).do.startswith("Nothing")
    assert placed(step(290.0, "note"), (REST,), Gauge()).do == "Look."
