"""Hostile words in every free field come out of every export harmless."""

import csv
import io
import json
import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import bagit
import pandas as pd
import pyarrow.parquet as pq
import pydicom
import pytest
from fhir.resources.R4B.bundle import Bundle

from arteriole.document import canonical_bytes
from arteriole.exchange.bag import read_bag, write_bag
from arteriole.exchange.dicom import encapsulated_pdf, structured_report
from arteriole.exchange.fhir import bundle
from arteriole.exchange.tables import tables, to_csv, to_parquet
from arteriole.formats import write_recording
from arteriole.recording.edit import EditRecord, SheetSet
from arteriole.report.html import study_page
from arteriole.report.letter import letter
from arteriole.report.plain_letter import TextEdit, plain_letter

from .test_dicom import referee
from .test_fhir import r4_errors

AT = "2026-03-05T10:00:00Z"
WORDS = {
    "html": "<script>alert(1)</script><img src=x onerror=alert(2)>",
    "tex": r"\write18{rm -rf /} $x^2$ \input{secret}",
    "typst": '#evil[x] *bold* `raw` @cite $ \\ #read("/etc/passwd")',
    "dicom": "a\\b^c=d",
    "formula": '=cmd|"/c calc"!A1',
    "formula after space": '\t@SUM(1)\r\n=1+1"',
    "control": "a\x00b\x1b[31mred\x07\x9b0m\ny",
    "right-to-left": "abc \u202efdp.exe\u202c שלום مرحبا\u2067x\u2069",
    "other script": "山田太郎 ศรี 🫀 e\u0301",
    "long": "x" * 10_000,
    "long words": "word " * 2_000,
}
BAD = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
FREE = ("case_id", "vessel", "segment", "operator", "date", "patient_label", "free_text",
        "pa_transducer")  # fmt: skip


@pytest.fixture(params=WORDS)
def words(request):
    return WORDS[request.param]


@pytest.fixture
def bad(full, words):
    """The full study with these words wherever a person or a file can put words."""
    sheet = replace(
        full.sheet, **dict.fromkeys(FREE, words), symptoms=(words,),
        hyperaemia=replace(full.sheet.hyperaemia, agent=words, route=words, dose=words),
        arteries_spasm_tested=(words,),
        spasm_test=tuple(replace(s, agent=words, route=words, artery=words, reliever=words)
                         for s in full.sheet.spasm_test),
    )  # fmt: skip
    return replace(
        full, sheet=sheet, recording=replace(full.recording, name=words),
        findings=tuple(replace(f, message=words, do=words) for f in full.findings),
        injections=tuple(replace(i, label=words, reasons=(words,)) for i in full.injections),
        statement=replace(full.statement, sentence=words, not_assessed=(words,)),
        indices=tuple(replace(i, formula=words, note=words) for i in full.indices),
    )  # fmt: skip


@pytest.fixture
def edits(words):
    return (EditRecord(id=words[:50], edit=SheetSet(field="vessel", value=words), who=words,
                       when=words, why=words),)  # fmt: skip


class Elements(HTMLParser):
    """What a browser would make of a page: its elements and their attributes."""

    def __init__(self):
        super().__init__()
        self.names, self.attributes = set(), set()

    def handle_starttag(self, tag, attrs):
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}


def elements(page: str) -> Elements:
    seen = Elements()
    seen.feed(page)
    return seen


def strings(value):
    if isinstance(value, dict):
        for v in value.values():
            yield from strings(v)
    elif isinstance(value, list):
        for v in value:
            yield from strings(v)
    elif isinstance(value, str):
        yield value


def test_pages_hold_no_element_or_attribute_of_the_words(bad, signals, edits, full):
    own = TextEdit(key="found", words=bad.sheet.operator, who=bad.sheet.operator, when="x")
    pages = {
        "letter": letter(bad, signals, edits=edits).html(),
        "study": study_page(bad, signals, edits=edits),
        "plain": plain_letter(bad, edits=[own]).html(),
    }
    plain = elements(letter(full, signals).html())
    for name, page in pages.items():
        seen = elements(page)
        assert seen.names <= plain.names | {"bdi"}, name
        assert not {a for a in seen.attributes if a.startswith("on")}, name
        assert not BAD.search(page), name


def test_texts_hold_no_control_and_no_direction(bad, signals, edits):
    own = TextEdit(key="found", words=bad.sheet.operator, who=bad.sheet.operator, when="x")
    for said in (letter(bad, signals, edits=edits).text(), plain_letter(bad, edits=[own]).text()):
        assert not BAD.search(said)
        assert "Not a medical device" in said
        assert len(said) < 60_000


def test_pdf_prints_the_words_as_words(bad, signals, edits, words, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is missing; install poppler-utils")
    path = tmp_path / "letter.pdf"
    path.write_bytes(letter(bad, signals, edits=edits).pdf())
    seen = subprocess.run(["pdftotext", "-enc", "UTF-8", str(path), "-"], capture_output=True,
                          text=True, check=True)  # fmt: skip
    said = seen.stdout.replace("\u200b", "")
    assert not BAD.search(said.replace("\x0c", ""))
    assert "root:" not in said
    start = {"<": "<script>", "#": "#evil[x]", "=": "=cmd|", "\\": r"\write18{rm"}.get(words[0])
    if start:
        assert start in said
    plain = plain_letter(bad)
    assert plain.pdf().startswith(b"%PDF-")


def test_bundle_is_valid_and_without_controls(bad, edits, recording):
    text = bundle(bad, at=AT, edits=edits, pdf=b"%PDF-1.7", recording=recording)
    assert Bundle.model_validate_json(text).entry
    assert not [s for s in strings(json.loads(text)) if BAD.search(s)]


def test_bundle_passes_the_second_validator(bad, edits, recording):
    assert r4_errors(bundle(bad, at=AT, edits=edits, pdf=b"%PDF-1.7", recording=recording)) == []


def test_dicom_objects_are_readable_and_valid(bad, tmp_path, recording):
    for content in (structured_report(bad, at=AT), encapsulated_pdf(bad, b"%PDF-1.7x", at=AT)):
        file = pydicom.dcmread(io.BytesIO(content))
        assert file.Modality in {"SR", "DOC"}
        assert not BAD.search(str(file.PatientID))
        said = referee(content, tmp_path)
        assert not [r for r in said.splitlines() if r.startswith("Error")], said
    named = replace(recording, sheet=replace(bad.sheet, marks=()))
    write_recording(named, tmp_path / "w.dcm", lossy=True)
    said = referee((tmp_path / "w.dcm").read_bytes(), tmp_path)
    assert not [r for r in said.splitlines() if r.startswith("Error")], said


def test_dcmtk_dumps_the_report(bad, tmp_path):
    if shutil.which("dsrdump") is None:
        pytest.skip("dsrdump is missing; install the package dcmtk")
    path = tmp_path / "report.dcm"
    path.write_bytes(structured_report(bad, at=AT))
    seen = subprocess.run(["dsrdump", "+Pl", str(path)], capture_output=True, check=False)
    assert seen.returncode == 0, seen.stderr
    assert b"Not a medical device" in seen.stdout


def test_tables_run_nothing_and_keep_the_words(bad, signals, words):
    made = tables(bad, signals)
    for name, rows in made.items():
        text = to_csv(rows)
        assert not BAD.search(text), name
        back = list(csv.reader(io.StringIO(text)))
        assert {len(r) for r in back} == {len(rows[0])}, name
        for row in back[1:]:
            for cell in row:  # a cell that begins like a formula is a number
                if cell.startswith(("=", "+", "-", "@")):
                    float(cell)
        assert len(pd.read_csv(io.StringIO(text))) == len(rows)
    kept = pq.read_table(io.BytesIO(to_parquet(made["indices"]))).column("case_id")[0].as_py()
    assert kept == words  # Parquet runs nothing, so the words stay whole


def test_bag_gives_the_words_back_whole(bad, edits, recording, tmp_path):
    original = tmp_path / "case.csv"
    original.write_bytes(b"x")
    folder = write_bag(tmp_path / "bag", bad, originals=[original], recording=recording,
                       sheet=bad.sheet, edits=edits)  # fmt: skip
    bagit.Bag(str(folder)).validate()
    bag = read_bag(folder)
    assert bag.sheet == bad.sheet
    assert bag.edits == edits
    assert bag.result == canonical_bytes(bad)
