"""A simulated session through arteriole's own reading, measuring and deciding, page by page."""

import json

import pytest

from arteriole.document import canonical_bytes
from arteriole.simulate import session
from arteriole.study import analyse
from arteriole.web import open_demo
from conftest import served


@pytest.fixture(scope="module")
def case():
    return session("structural", 11, rate_hz=250.0)


@pytest.fixture(scope="module")
def demo(case):
    with served(open_demo(case.recording, case.sheet, case.truth)) as one:
        yield one


@pytest.fixture
def caller(demo):
    with demo.client() as one:
        yield one


def study_of(demo):
    return demo.app.state.first_path.rsplit("/", 1)[1]


def test_the_bench_shows_what_the_analysis_of_the_same_file_gives(demo, caller, case):
    desk = demo.app.state.desk
    reading = desk.open(study_of(demo))
    alone = analyse(reading.laid.recording, desk.store.first_sheet(study_of(demo)))
    sent = caller.get(f"/api/v1/studies/{study_of(demo)}/result").content

    assert sent == canonical_bytes(alone)
    page = caller.get(demo.app.state.first_path).text
    assert alone.statement.sentence.replace("<", "&lt;") in page
    for index in alone.indices:
        if index.value is not None:
            assert f"{index.value:.{index.decimals}f}" in page


def test_every_number_has_a_working(demo, caller):
    for index in caller.get(f"/api/v1/studies/{study_of(demo)}/result").json()["indices"]:
        reply = caller.get(f"/studies/{study_of(demo)}/working/{index['key']}", params={"part": 1})
        assert reply.status_code == 200
        if index["withheld"]:
            assert "Withheld is not normal" in reply.text


def test_leaving_out_an_injection_moves_cfr_and_undo_restores_the_bytes(demo, caller):
    url = f"/api/v1/studies/{study_of(demo)}"
    before = caller.get(f"{url}/result").content
    notch = caller.get(f"{url}/view").json()["notches"][0]
    mark = {"kind": "injection", "time_s": notch["time_s"], "verdict": "left out", "why": "cough"}
    caller.post(f"{url}/edits", json={"edit": {"kind": "MarkSet", "id": notch["id"], "mark": mark}})
    after = caller.get(f"{url}/result").content

    def cfr(body):
        return next(i["value"] for i in json.loads(body)["indices"] if i["key"] == "cfr_bolus")

    assert cfr(after) != cfr(before)
    assert "cough" in caller.get(f"{demo.app.state.first_path}").text
    caller.post(f"{url}/undo", json={})
    assert caller.get(f"{url}/result").content == before


def test_another_rule_table_is_named_in_the_statement(demo, caller):
    from arteriole.interpret import RULES

    url = f"/api/v1/studies/{study_of(demo)}"
    other = list(RULES)[1]
    reply = caller.post(f"{url}/edits", json={"edit": {"kind": "RulesSet", "rules": other}})
    assert reply.status_code == 201
    assert other in caller.get(f"{url}/result").json()["statement"]["rules"]
    caller.post(f"{url}/undo", json={})
    bad = caller.post(f"{url}/edits", json={"edit": {"kind": "RulesSet", "rules": "nonsense"}})
    assert bad.status_code in {400, 404}
    assert other in bad.json()["error"]


def test_the_folder_of_a_demo_goes_with_it(case):
    with served(open_demo(case.recording, case.sheet)) as one:
        folder = one.store.vault.folder.parent
        assert folder.is_dir()
    assert not folder.exists()


def test_a_recording_without_aortic_pressure_says_so_on_its_page(demo, caller, tmp_path):
    body = "time_s,temp_degC\n" + "\n".join(f"{k / 100:.2f},37.0" for k in range(4000))
    reply = caller.post("/api/v1/studies", files={"files": ("cold.csv", body)})
    assert reply.status_code == 201
    page = caller.get(f"/studies/{reply.json()['id']}").text

    assert "pa" in page
    assert "message" in page


@pytest.mark.browser
def test_the_demo_paints(demo, tab):
    tab.goto(demo.opening(demo.app.state.first_path))
    tab.wait_for_selector("trace-view[data-painted]")
    tab.wait_for_selector(".tv-notch", state="attached")
    assert "SIMULATED" in tab.inner_text("main")
