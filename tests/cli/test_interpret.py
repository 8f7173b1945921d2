"""The verb: numbers in, a document out, clear refusals."""

import json

import pytest

from arteriole import CAUTION
from arteriole.cli.main import run


def call(*words):
    rows = [w for word in words for w in ("--set", word)]
    return run(["interpret", *rows])


def test_numbers_give_a_statement_with_caution(capsys):
    assert call("ffr=0.84", "cfr_bolus=1.2", "imr=45") == 0
    out = capsys.readouterr().out
    assert "called structural" in out
    assert "not assessed: vasospasm" in out
    assert CAUTION in out


def test_the_document_is_that_of_a_recording(tmp_path):
    path = tmp_path / "out.json"
    assert run(["interpret", "--set", "tmn_rest_s=0.95,1.02,1.00", "--set",
                "tmn_hyper_s=0.24,0.26,0.25", "--set", "pd_hyper_mmhg=78", "--json", str(path),
                "--quiet"]) == 0  # fmt: skip
    plain = json.loads(path.read_text("utf-8"))
    values = {i["key"]: i["value"] for i in plain["indices"]}

    assert plain["schema"] == "arteriole.result/1"
    assert values["imr"] == pytest.approx(19.5)
    assert values["cfr_bolus"] == pytest.approx(3.96)
    assert values["mrr_bolus"] is None  # Pa at rest was not given


@pytest.mark.parametrize(("word", "told"), [
    ("foo=1", "allowed: baseline_resistance_index"),
    ("ffr=84", "0.1 to 1.2 is allowed; check the unit"),
    ("ffr=high", "one number with a decimal point"),
    ("ffr=0.8,0.9", "one number with a decimal point"),
    ("tmn_rest_s=980", "0.05 to 5 is allowed"),
    ("ffr=nan", "0.1 to 1.2 is allowed"),
    ("ffr", "the form is ffr=0.84"),
])  # fmt: skip
def test_a_wrong_word_is_refused_with_what_is_allowed(word, told, capsys):
    assert call(word) == 2
    err = capsys.readouterr().err
    assert err.startswith("error: ")
    assert told in err


def test_nothing_derived_is_exit_4_and_nothing_given_exit_2():
    assert call("drift_mmhg=1") == 4
    assert run(["interpret"]) == 2


def test_a_typed_drift_is_used_and_stands_in_the_document(tmp_path, capsys):
    path = tmp_path / "out.json"
    assert run(["interpret", "--set", "ffr=0.79", "--set", "drift_mmhg=-4", "--json",
                str(path)]) == 0  # fmt: skip
    plain = json.loads(path.read_text("utf-8"))
    out = capsys.readouterr().out

    assert plain["gauge"]["drift"]["state"] == "off"
    assert plain["gauge"]["drift"]["offset_mmhg"] == -4.0
    assert plain["gauge"]["equalisation"]["state"] == "not checked"
    assert "drift removed: 0.83" in out
    assert "90 mmHg is taken" in out
    assert "drift and curves could not be checked" not in out
    assert call("ffr=0.79") == 0
    assert "drift and curves could not be checked" in capsys.readouterr().out
