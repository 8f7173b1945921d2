"""Every export of the command line is opened by software that is not ours."""

import json
import shutil
from pathlib import Path

import bagit
import edfio
import pandas as pd
import pyarrow.parquet as pq
import pydicom
import pypdf
import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole import CAUTION, simulate
from arteriole.cli.main import run
from arteriole.formats import read_recording, write_recording


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """One call that writes everything, from a session stored as CSV with a sheet beside it."""
    folder = tmp_path_factory.mktemp("exports")
    session = simulate.session("mixed", 31, rate_hz=200)
    write_recording(session.recording, folder / "case.csv", lossy=True)
    (folder / "sheet.json").write_text(
        json.dumps({"vessel": "LAD", "segment": "mid", "bolus_volume_ml": 3.0,
                    "marks": [{"kind": "rest", "start_s": 80.0, "end_s": 100.0}]})
    )  # fmt: skip
    words = ["analyse", str(folder / "case.csv"), "--sheet", str(folder / "sheet.json"), "--quiet",
             "--lag-corrected", "--paper", "letter"]  # fmt: skip
    for option, name in (
        ("--json", "result.json"), ("--html", "study.html"),
        ("--pdf", "letter.pdf"), ("--letter-html", "letter.html"),
        ("--letter-text", "letter.txt"), ("--plain-letter", "plain.pdf"), ("--fhir", "fhir.json"),
        ("--sr", "report.dcm"), ("--dicom-pdf", "letter.dcm"), ("--waveform", "wave.dcm"),
        ("--tables", "tables"), ("--bag", "bag"),
    ):  # fmt: skip
        words += [option, str(folder / name)]
    assert run(words) == 0
    return folder


def test_letters_are_what_their_endings_say(made):
    page = pypdf.PdfReader(made / "letter.pdf").pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == (612, 792)
    assert "Your doctor decides" in pypdf.PdfReader(made / "plain.pdf").pages[0].extract_text()
    for name in ("study.html", "letter.html", "letter.txt"):
        said = " ".join((made / name).read_text("utf-8").split())
        assert CAUTION in said
        assert "SIMULATED" in said


def test_open_standards_are_accepted_by_their_libraries(made):
    assert Bundle.model_validate_json((made / "fhir.json").read_text("utf-8")).entry
    kinds = {name: pydicom.dcmread(made / f"{name}.dcm") for name in ("report", "letter", "wave")}
    assert [f.Modality for f in kinds.values()] == ["SR", "DOC", "HD"]
    assert len({f.StudyInstanceUID for f in kinds.values()}) == 1  # one study, three objects
    inside = kinds["letter"].EncapsulatedDocument[: kinds["letter"].EncapsulatedDocumentLength]
    assert inside == (made / "letter.pdf").read_bytes()
    names = [c.ChannelLabel for g in kinds["wave"].WaveformSequence
             for c in g.ChannelDefinitionSequence]  # fmt: skip
    assert set(names) == {c.name for c in read_recording(made / "case.csv").channels}


def test_tables_open_in_pandas_and_arrow(made):
    frame = pd.read_csv(made / "tables" / "indices.csv")
    table = pq.read_table(made / "tables" / "indices.parquet").to_pandas()
    assert frame["key"].tolist() == table["key"].tolist()
    assert frame["value"].tolist() == pytest.approx(table["value"].tolist(), nan_ok=True)
    codes = pd.read_csv(made / "tables" / "codebook.csv")["column"]
    assert set(frame.columns) <= set(codes)


def test_bag_is_valid_and_holds_original_edf_marks_result_ledger_and_letter(made):
    bagit.Bag(str(made / "bag")).validate()
    inside = made / "bag" / "data"
    assert (inside / "recording" / "case.csv").read_bytes() == (made / "case.csv").read_bytes()
    assert (inside / "result.json").read_bytes() == (made / "result.json").read_bytes()
    assert (inside / "documents" / "letter.pdf").read_bytes() == (made / "letter.pdf").read_bytes()
    assert json.loads((inside / "sheet.json").read_text())["marks"][0]["kind"] == "rest"
    assert json.loads((inside / "edits.json").read_text()) == []
    edf = edfio.read_edf(inside / "recording.edf")
    assert {s.label for s in edf.signals} == {
        c.name for c in read_recording(made / "case.csv").channels}  # fmt: skip


def test_opening_the_bag_gives_the_same_bytes(made, tmp_path, capsys):
    out = tmp_path / "again.json"
    assert run(["bag", "open", str(made / "bag"), "--json", str(out), "--quiet"]) == 0
    assert out.read_bytes() == (made / "result.json").read_bytes()
    assert "byte for byte" in capsys.readouterr().err


def test_a_bag_carried_elsewhere_opens_as_well(made, tmp_path, capsys):
    shutil.copytree(made / "bag", tmp_path / "elsewhere")
    assert run(["bag", "open", str(tmp_path / "elsewhere"), "--quiet"]) == 0


def test_a_changed_bag_is_refused_with_exit_3(made, tmp_path, capsys):
    copy = tmp_path / "bag"
    shutil.copytree(made / "bag", copy)
    with (copy / "data" / "recording" / "case.csv").open("a") as file:
        file.write("9,9,9\n")
    assert run(["bag", "verify", str(copy)]) == 3
    assert "was changed" in capsys.readouterr().err


def test_verify_names_the_recordings(made, capsys):
    assert run(["bag", "verify", str(made / "bag")]) == 0
    assert "every checksum is right; recordings: case.csv" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--paper", "a3"], "allowed: a4, letter"),
        (["--template", "fr"], "named ones are: de"),
        (["--plain-letter", "x.doc"], "endings are: .pdf, .html, .txt"),
        (["--bag", "."], "there already"),
    ],
)
def test_what_cannot_be_written_is_refused_before_reading(words, said, capsys):
    assert run(["analyse", "/no/such/file.csv", *words]) == 2
    assert said in capsys.readouterr().err


def test_an_unknown_act_lists_the_acts(capsys):
    assert run(["bag", "burn", "x"]) == 2
    assert "allowed: verify, open, keep" in capsys.readouterr().err


def test_german_letter_by_name_and_own_template_with_logo(made, tmp_path, capsys):
    own = tmp_path / "own.toml"
    own.write_text('title = "Befund"\nlogo = "logo.svg"\n[headings]\nnumbers = "Zahlen"\n')
    (tmp_path / "logo.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    case = str(made / "case.csv")
    for template, said in (("de", "Messwerte"), (str(own), "Zahlen")):
        out = tmp_path / "letter.html"
        assert run(["analyse", case, "--quiet", "--template", template, "--letter-html",
                    str(out)]) in {0, 4}  # fmt: skip
        assert said in out.read_text("utf-8")
    assert "data:image/svg+xml" in out.read_text("utf-8")
    (tmp_path / "logo.svg").write_text("no picture")
    assert run(["analyse", case, "--template", str(own)]) == 2
    assert "is no SVG" in capsys.readouterr().err


def test_two_runs_of_one_name_and_own_rules_come_back(made, tmp_path, capsys):
    for k, seed in enumerate((41, 42)):
        (tmp_path / str(k)).mkdir()
        session = simulate.session("normal", seed, rate_hz=200)
        write_recording(session.recording, tmp_path / str(k) / "run.h5")
    out, bag = tmp_path / "r.json", tmp_path / "bag"
    words = [str(tmp_path / "0" / "run.h5"), str(tmp_path / "1" / "run.h5")]
    assert run(["analyse", *words, "--rules", "cfr-2.5", "--json", str(out), "--bag", str(bag),
                "--quiet"]) in {0, 4}  # fmt: skip
    bagit.Bag(str(bag)).validate()
    again = tmp_path / "again.json"
    assert run(["bag", "open", str(bag), "--json", str(again), "--quiet"]) in {0, 4}
    assert again.read_bytes() == out.read_bytes()


def test_a_clinicians_words_in_the_plain_letter_are_on_record(made, tmp_path, capsys):
    own, out = tmp_path / "words.json", tmp_path / "plain.txt"
    own.write_text(json.dumps({"who": "reader 3", "when": "2026-03-05",
                               "words": {"found": "We saw narrow small vessels."}}))  # fmt: skip
    words = ["analyse", str(made / "case.csv"), "--quiet", "--plain-letter", str(out)]
    assert run([*words, "--plain-words", str(own)]) == 0
    said = out.read_text("utf-8")
    assert "We saw narrow small vessels." in said
    assert "words by reader 3, 2026-03-05" in said
    own.write_text(json.dumps({"words": {"found": "x"}}))
    assert run([*words, "--plain-words", str(own)]) == 2
    assert "who, when" in capsys.readouterr().err


def test_a_bag_kept_in_a_store_has_the_same_result_and_settings(made, tmp_path, capsys):
    from arteriole.recording import resolve
    from arteriole.store import open_store

    place = tmp_path / "kept.db"
    assert run(["bag", "keep", str(made / "bag"), "--store", str(place)]) == 0
    assert "byte for byte" in capsys.readouterr().err
    store = open_store(str(place))
    row = store.studies()[0]
    effective = resolve(store.first_sheet(row.id), store.edits(row.id))
    assert effective.settings.lag_corrected
    assert store.main_file(row.id).read_bytes() == (made / "case.csv").read_bytes()
    store.close()
