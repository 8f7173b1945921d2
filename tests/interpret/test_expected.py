"""What the sheet lets expect; notes inform, cautions need a number against them."""

import pytest

from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.interpret.expected import COURSES, course_of, expected
from arteriole.recording import Sheet
from arteriole.recording.sheet import Hyperaemia as Drug
from arteriole.recording.sheet import Nitrate

SEEN = Hyperaemia(state="steady", start_s=284.0, end_s=350.0)
ROW = [("H1", 290.0), ("H2", 302.0), ("H3", 314.0)]


def found(sheet, rest_s=(100.0, 125.0), row=ROW):
    return {f.code: f for f in expected(sheet, SEEN, row, rest_s)}


def drug(agent, route, start_s=None, **more):
    return Sheet(hyperaemia=Drug(agent=agent, route=route, start_s=start_s), **more)


def test_nothing_on_the_sheet_lets_expect_nothing():
    assert found(Sheet()) == {}
    assert found(drug("adenosine", None)) == {}


def test_a_known_agent_says_its_course_and_when_the_plateau_was_found():
    got = found(drug("Adenosine", "intravenous", start_s=200.0))

    assert set(got) == {"hyperaemia_expected"}
    assert got["hyperaemia_expected"].severity == "note"
    assert "about two minutes" in got["hyperaemia_expected"].message
    assert "steady 84 s after its start" in got["hyperaemia_expected"].message


# Adjedj 2015: plateau 21 +/- 6 s left, 12 +/- 13 s right
@pytest.mark.parametrize(("vessel", "late"), [("LAD", "H3: given more than 27 s"),
                                              ("RCA", "H3: given more than 25 s")])  # fmt: skip
def test_injections_after_an_intracoronary_plateau_are_named(vessel, late):
    sheet = drug("adenosine", "intracoronary", start_s=280.0, vessel=vessel)

    assert found(sheet)["hyperaemia_outlasted"].message.startswith(late)


def test_without_the_start_of_the_drug_there_is_no_caution():
    assert set(found(drug("adenosine", "ic"))) == {"hyperaemia_expected"}


@pytest.mark.parametrize(("agent", "hours", "told"), [
    ("adenosine", 5.0, True), ("ATP", 5.0, True), ("adenosine triphosphate", 5.0, True),
    ("regadenoson", 5.0, True), ("papaverine", 5.0, False), ("adenosine", 24.0, False),
])  # fmt: skip
def test_recent_caffeine_is_a_caution_for_what_it_blunts(agent, hours, told):
    assert ("caffeine_recent" in found(drug(agent, "iv", caffeine_h=hours))) is told


def test_nitrate_is_judged_where_rest_is_found():
    # once, with one limit: tests/episodes/test_rest.py
    assert found(Sheet(nitrate=Nitrate(dose_ug=200.0, time_s=95.0))) == {}


def test_anaemia_stands_beside_resting_flow():
    assert found(Sheet(haemoglobin_g_dl=8.5))["resting_flow_raised"].severity == "note"
    assert found(Sheet(haemoglobin_g_dl=13.0)) == {}


def test_every_course_is_found_by_its_words_and_proposes_nothing():
    for course in COURSES:
        assert course_of(drug(course.agent, course.route)) is course
        words = course.words.lower()
        assert not any(w in words for w in ("give", "dose", "repeat", "increase"))


def test_ffr_read_after_an_intracoronary_plateau_is_named():
    # The start and FFR of a session with four doses of which only the first is on the sheet.
    sheet = drug("adenosine", "intracoronary", start_s=208.7, vessel="LAD")
    got = {f.code: f for f in expected(sheet, SEEN, [], None, ffr_s=291.0)}

    assert got["hyperaemia_outlasted"].message.startswith("FFR was read at 291 s, more than 27 s")
    assert "mark the steady stretch" in got["hyperaemia_outlasted"].do
    near = {f.code for f in expected(sheet, SEEN, [], None, ffr_s=220.0)}
    assert "hyperaemia_outlasted" not in near


def test_a_later_dose_starts_its_own_plateau():
    sheet = drug("adenosine", "intracoronary", start_s=208.7, vessel="LAD")
    row = [("H1", 218.0), ("H2", 280.0), ("H3", 330.0)]
    got = {f.code: f for f in expected(sheet, SEEN, row, None, ffr_s=291.0, doses_s=[209.0, 270.0])}

    assert got["hyperaemia_outlasted"].message.startswith("H3: given more than 27 s")
