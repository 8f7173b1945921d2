"""``arteriole simulate`` writes recording, sheet and truth, and says SIMULATED."""

import json

import pytest

from arteriole.cli.main import run
from arteriole.formats import read_recording
from arteriole.simulate import PATTERNS


def test_a_session_is_written_with_sheet_and_truth(tmp_path, capsys):
    out, truth = tmp_path / "case.csv", tmp_path / "case.truth.json"

    code = run([
        "simulate", "--pattern", "focal", "--seed", "7", "--out", str(out), "--truth", str(truth),
        "--artefact", "pd_drift", "--set", "heart_rate_bpm=80", "--rate-hz", "200",
    ])  # fmt: skip

    assert code == 0
    assert "SIMULATED" in capsys.readouterr().err
    assert json.loads(truth.read_text())["artefacts"] == ["pd_drift"]
    assert json.loads((tmp_path / "case.sheet.json").read_text())["simulated"] is True
    recording = read_recording(out)
    assert {"pa", "pd", "temp"} <= {c.name for c in recording.channels}


def test_the_same_call_writes_the_same_bytes(tmp_path):
    files = [tmp_path / "a.csv", tmp_path / "b.csv"]
    for file in files:
        assert run(["simulate", "--seed", "3", "--rate-hz", "200", "--out", str(file)]) == 0

    assert files[0].read_bytes() == files[1].read_bytes()


def test_a_cohort_is_written_into_a_folder(tmp_path):
    assert run(["simulate", "--cohort", "2", "--seed", "4", "--out", str(tmp_path / "set")]) == 0

    names = sorted(p.name for p in (tmp_path / "set").iterdir())
    assert names == [
        "case-0001.csv", "case-0001.sheet.json", "case-0001.truth.json",
        "case-0002.csv", "case-0002.sheet.json", "case-0002.truth.json",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--pattern", "x"], "Pattern 'x' is not known"),
        (["--artefact", "x"], "Artefact 'x' is not known"),
        (["--set", "x=1"], "constant 'x' is not known"),
        (["--set", "heart_rate_bpm=fast"], "a number is needed"),
    ],
)
def test_a_wrong_option_is_answered_with_code_2(tmp_path, capsys, words, said):
    assert run(["simulate", "--out", str(tmp_path / "a.csv"), *words]) == 2
    assert said in capsys.readouterr().err


def test_the_help_names_every_pattern(capsys):
    assert run(["simulate", "--help"]) == 0

    said = " ".join(capsys.readouterr().out.split())
    assert [p for p in PATTERNS if p not in said] == []
