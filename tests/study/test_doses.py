"""Doses into the artery: read one by one, said, and never called one course."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from arteriole.recording import Mark, Settings, Sheet
from arteriole.simulate import session
from arteriole.study import decide, measure
from arteriole.study.doses import with_doses


@cache
def made(pattern="focal", seed=940001, route="intracoronary"):
    one = session(pattern, seed, rate_hz=200.0, route=route)
    return one, measure(one.recording, Settings())


@cache
def without_temperature():
    one, _ = made()
    kept = tuple(c for c in one.recording.channels if c.name in {"pa", "pd"})
    return measure(replace(one.recording, channels=kept), Settings())


def starts(one):
    return [e["t0"] for e in one.truth["events"] if e["kind"] == "adenosine_ic"]


def decided(measurement, sheet, marks=()):
    return decide(measurement, sheet, marks, Settings(), "default", "0")


def drug(one, **more):
    return replace(one.sheet, hyperaemia=replace(one.sheet.hyperaemia, **more))


def ffr(result):
    return next(i for i in result.indices if i.key == "ffr")


def codes(result):
    return {f.code: f for f in result.findings}


@pytest.mark.parametrize(("pattern", "seed"), [("focal", 940001), ("normal", 940003)])
def test_every_dose_is_steady_where_the_vessel_was_open(pattern, seed):
    one, measurement = made(pattern, seed)
    result = decided(measurement, one.sheet)
    truth = np.array(one.truth["hyperaemia"]["state"]) == "steady"
    mine = np.zeros(truth.size, dtype=bool)
    for s in result.hyperaemia.states:
        mine[round(s.start_s) : round(s.end_s)] |= s.state == "steady"

    assert result.hyperaemia.state == "steady"
    assert (truth & mine).sum() > 0.75 * truth.sum()
    assert (mine & ~truth).sum() <= 4
    assert abs(ffr(result).value - one.truth["indices"]["ffr"]) < 0.012
    said = codes(result)
    assert said["hyperaemia_doses"].message.startswith("4 doses into the artery seen")
    assert not {"hyperaemia_not_reached", "hyperaemia_unsteady", "ratio_step"} & {
        c for c, f in said.items() if f.severity == "caution"
    }


@pytest.mark.parametrize(("pattern", "seed"), [("focal", 940001), ("structural", 940004)])
def test_injections_under_a_dose_are_hyperaemic(pattern, seed):
    one, measurement = made(pattern, seed)
    result = decided(measurement, one.sheet)

    assert [i.label for i in result.injections] == ["R1", "R2", "R3", "H1", "H2", "H3"]


def test_a_dose_that_ends_is_no_withdrawal():
    one, measurement = made()
    kinds = {e.kind for e in decided(measurement, one.sheet).episodes}

    assert "pullback" not in kinds
    assert "drift_check" in kinds


def test_without_a_route_the_falls_are_read_with_a_caution():
    one, measurement = made()
    result = decided(measurement, drug(one, route=None))

    assert ffr(result).value is not None
    assert codes(result)["hyperaemia_doses"].severity == "caution"
    assert "contrast" in codes(result)["hyperaemia_doses"].message


def test_pressures_alone_need_the_route():
    one, _ = made()
    bare = without_temperature()

    assert ffr(decided(bare, one.sheet)).value == pytest.approx(
        one.truth["indices"]["ffr"], abs=0.012
    )
    unnamed, seen = with_doses(bare, Sheet())
    assert unnamed is bare
    assert not seen.read


@pytest.mark.parametrize("route", ["intravenous", None, "intracoronary"])
def test_one_long_course_stays_as_it_was_found(route):
    one, measurement = made(route="intravenous")
    after, seen = with_doses(measurement, drug(one, route=route))

    assert after is measurement
    assert not seen.read


def test_a_vein_on_the_sheet_is_not_read_as_doses():
    one, measurement = made()

    assert with_doses(measurement, drug(one, route="intravenous"))[0] is measurement


def test_what_cannot_be_read_is_said_and_withheld(monkeypatch):
    one, measurement = made()
    monkeypatch.setattr("arteriole.study.doses.doses_of", lambda *_, **__: ())
    result = decided(measurement, one.sheet)

    assert result.hyperaemia.state == "not reached"
    assert ffr(result).value is None
    unread = codes(result)["hyperaemia_doses_unread"]
    assert "brief falls" in unread.message
    assert unread.do.startswith("Mark each steady stretch")
    # they still acted: nothing under them is called rest
    assert [i.label for i in result.injections][3:] == ["H1", "H2", "H3"]


def test_marked_stretches_stand_above_the_doses():
    one, measurement = made()
    mark = Mark(kind="hyperaemia", start_s=258.0, end_s=270.0)
    result = decided(measurement, one.sheet, (mark,))

    assert [s.state for s in result.hyperaemia.states] == ["steady"]
    assert "hyperaemia_doses" not in codes(result)


def test_an_injection_after_the_drugs_start_is_not_called_rest_without_a_word():
    one, measurement = made()
    early = decided(measurement, drug(one, start_s=150.0))

    assert codes(early)["rest_after_drug"].message.startswith("R2 and R3")
    assert "rest_after_drug" not in codes(decided(measurement, drug(one, start_s=starts(one)[0])))


def test_cold_at_the_start_of_a_dose_is_the_dose_itself():
    one, measurement = made()
    found = measurement.found
    at = starts(one)[1]
    k = sum(t < at for t in found.injections_s)

    def put(row, new):
        return (*row[:k], new, *row[k:])

    cold = replace(
        measurement, readings=put(measurement.readings, measurement.readings[0]),
        found=replace(
            found, injections_s=put(found.injections_s, at), phases=put(found.phases, "rest")
        ),
    )  # fmt: skip
    result = decided(cold, one.sheet)

    assert [i.label for i in result.injections] == ["R1", "R2", "R3", "H1", "H2", "H3"]
    assert f"Cold at {at:.0f} s is taken for the dose itself" in (
        codes(result)["hyperaemia_doses"].message
    )


def test_each_dose_has_its_own_time_to_outlast():
    one, measurement = made()
    first = starts(one)[0]

    assert "hyperaemia_outlasted" not in codes(decided(measurement, drug(one, start_s=first)))
