"""Page one is the letter, page two the evidence, on either paper, whatever the study holds."""

import io
import re
import shutil
import subprocess
from dataclasses import replace
from importlib import resources

import pypdf
import pytest

from arteriole import simulate, study
from arteriole.recording import Finding
from arteriole.recording.edit import EditRecord, SheetSet
from arteriole.recording.sheet import sheet_from_mapping
from arteriole.report.letter import letter
from studies import SHEET

PAPERS = ("a4", "letter")


def pages(one) -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(one.pdf()))
    return [" ".join(p.extract_text().split()) for p in reader.pages]


@pytest.fixture(scope="module")
def everything():
    """A session with bolus and infusion, pullback and a full sheet, with findings added."""
    made = simulate.session("mixed", 11, continuous=True, rate_hz=250.0)
    told = {k: v for k, v in SHEET.items() if k not in {"hyperaemia", "continuous", "pullback"}}
    told["spasm_test"] = told["spasm_test"] * 4
    known = {f: getattr(made.sheet, f) for f in ("hyperaemia", "continuous", "pullback",
                                                 "temp_reference", "bolus_volume_ml")}  # fmt: skip
    sheet = replace(sheet_from_mapping(told), **known)
    measured = study.measure(made.recording, study.DEFAULT_SETTINGS)
    result = study.analyse(made.recording, sheet, measured=measured)
    more = tuple(
        Finding(code=f"{weight}_{k % 3}", severity=weight, channel="pd", start_s=10.0 * k,
                end_s=10.0 * k + 4.0, message=f"Pd of stretch {k} is {weight} for 4.0 s.",
                do="Look at the connector and record the stretch again.")
        for weight, count in (("note", 12), ("caution", 6), ("stop", 1)) for k in range(count)
    )  # fmt: skip
    return replace(result, findings=(*result.findings, *more)), measured


@pytest.mark.parametrize("paper", PAPERS)
def test_a_study_with_everything_holds_on_two_pages(everything, paper):
    result, measured = everything
    assert sum(i.value is not None for i in result.indices) >= 20
    assert len(result.injections) >= 6
    one, two = pages(letter(result, measured, paper=paper))
    for index in result.indices:
        assert index.label.split(" (")[0] in one, index.label
    for said in ("Read by", "Not a medical device", result.statement.rules, "SHA-256"):
        assert said in one
    for said in ("Traces and curves", "How the numbers were made", "Not a medical device"):
        assert said in two


@pytest.mark.parametrize("paper", PAPERS)
def test_no_caution_and_no_stop_is_dropped(everything, paper):
    result, measured = everything
    one = pages(letter(result, measured, paper=paper))[0]
    weights = {f.code: f for f in result.findings if f.severity != "note"}
    for finding in weights.values():  # of one kind the first in words, the others by their times
        assert finding.severity in one
        assert f"{finding.start_s:.1f}" in one
    assert one.index("stop pd") < one.index("caution pd")


def test_notes_that_do_not_fit_are_counted(everything):
    result, measured = everything
    two = pages(letter(result, measured))[1]
    notes = sum(f.severity == "note" for f in result.findings)
    shown = two.count("note pd") + two.count("note pa") + two.count("note temp")
    told = re.search(r"and (\d+) more notes|(\d+) notes stand", two)
    assert shown == notes or int(next(g for g in told.groups() if g)) >= notes - shown


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["full", "poor"])
def test_two_pages_on_either_paper(name, paper, signals, request):
    one, two = pages(letter(request.getfixturevalue(name), signals, paper=paper))
    assert "Read by" in one
    assert "Traces and curves" in two


@pytest.mark.parametrize("paper", PAPERS)
def test_thirty_injections_and_forty_edits_still_fit(full, signals, paper):
    many = tuple(
        replace(i, label=f"{i.label[0]}{k}", time_s=i.time_s + k / 10)
        for k in range(5)
        for i in full.injections
    )
    edits = tuple(
        EditRecord(id=str(k), edit=SheetSet(field="vessel", value="LAD"), who="reader 3",
                   when="2026-03-05T10:00:00Z", why="typing slip") for k in range(40)
    )  # fmt: skip
    said = pages(letter(replace(full, injections=many), signals, paper=paper, edits=edits))
    assert len(said) == 2
    assert said[0].count("typing slip") == 40 or "more in the ledger" in said[0]
    for one in many:
        assert one.label in said[0]


@pytest.mark.parametrize("paper", PAPERS)
def test_ten_thousand_characters_in_every_field_add_no_third_page(full, signals, paper):
    from test_letter import HOSTILE, filled

    for name in ("long", "long words"):
        said = pages(letter(filled(full, HOSTILE[name]), signals, paper=paper))
        assert len(said) == 2, name
        assert "…" in said[0]  # cut with a mark; the whole is in the result document


def test_words_of_the_body_are_never_smaller_than_seven_and_a_half_points():
    source = resources.files("arteriole.report").joinpath("letter.typ").read_text("utf-8")
    row = re.search(r"#let sizes = (.*)", source).group(1)
    assert min(float(s) for s in re.findall(r"([\d.]+)pt", row)) == 7.5


def test_pages_render_and_are_not_empty(everything, tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is missing; install poppler-utils")
    path = tmp_path / "letter.pdf"
    path.write_bytes(letter(*everything).pdf())
    subprocess.run(["pdftoppm", "-r", "40", "-gray", path, tmp_path / "page"], check=True)
    made = sorted(tmp_path.glob("page*.pgm"))
    assert len(made) == 2
    for page in made:
        grey = page.read_bytes().split(b"\n", 3)[3]
        dark = sum(v < 128 for v in grey) / len(grey)
        assert 0.005 < dark < 0.4
