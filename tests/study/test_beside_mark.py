"""A mark of the plateau alone leaves the injections before it under the drug."""

import pytest

from arteriole.recording import Mark, Settings, Sheet
from arteriole.simulate import session
from arteriole.study import analyse, measure


@pytest.fixture(scope="module")
def focal():
    one = session("focal", 4101, rate_hz=200.0)
    return one, measure(one.recording, Settings())


def read(focal, *marks, **changed):
    one, measured = focal
    sheet = Sheet(**({"marks": marks} | changed))
    return analyse(one.recording, sheet, measured=measured)


def plateau_of(focal) -> Mark:
    one, _ = focal
    after = max(i["t_start"] for i in one.truth["injections"] if i["state"] == "hyper") + 10.0
    (window,) = [e for e in one.truth["events"] if e["kind"] == "hyper_window"]
    assert after < window["t1"]
    return Mark(kind="hyperaemia", start_s=max(after, window["t0"]), end_s=window["t1"])


def test_a_marked_plateau_after_the_injections_leaves_their_state(focal) -> None:
    plain, marked = read(focal), read(focal, plateau_of(focal))

    assert [i.phase for i in marked.injections] == [i.phase for i in plain.injections]
    for key in ("tmn_rest", "tmn_hyper", "cfr_bolus"):
        assert marked.index(key).value == pytest.approx(plain.index(key).value, rel=1e-6)
    (told,) = [f for f in marked.findings if f.code == "injections_beside_mark"]
    assert told.severity == "caution"
    assert "H1, H2, H3" in told.message


def test_a_label_stands_above_what_the_transit_times_say(focal) -> None:
    first = next(i for i in read(focal).injections if i.phase == "hyperaemia")
    named = Mark(kind="injection", time_s=first.time_s, label="R9")
    marked = read(focal, plateau_of(focal), named)

    assert next(i for i in marked.injections if i.label == "R9").phase == "rest"


def test_a_mark_elsewhere_says_that_the_found_hyperaemia_was_none(focal) -> None:
    rest = next(e for e in read(focal).episodes if e.kind == "rest")
    marked = read(focal, Mark(kind="hyperaemia", start_s=rest.start_s, end_s=rest.end_s))

    assert {i.phase for i in marked.injections} == {"rest"}
    assert not [f for f in marked.findings if f.code == "injections_beside_mark"]
