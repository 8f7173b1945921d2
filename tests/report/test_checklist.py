"""A complete report, item by item, in every form, on a full study and on a poor one.

The items are those that papers on standardised acquisition, recording and archiving of
intracoronary physiology ask for; each is here with what the hand-made studies must show for it.
"""

import io
import re

import pypdf
import pytest

from arteriole import CAUTION
from arteriole.recording.edit import EditRecord, SheetSet
from arteriole.report.letter import letter

FULL = {
    "patient": "P-17",
    "case": "demo-017",
    "vessel and segment": "LAD, mid",
    "operator": "reader 3",
    "date": "2026-03-04",
    "stage": "before",
    "symptoms": "chest pain on effort",
    "haemoglobin": "13.4 g/dL",
    "caffeine": "26 h before",
    "narrowing": "40 %",
    "catheter size, side-holes, engaged": "size 6 F; side-holes no; engaged yes",
    "sensor position": "7.5 cm",
    "nitrate": "dose 200 µg; time 60 s",
    "equalisation": "matched: Pd − Pa 0.3 mmHg",
    "rest: heart rate": "75 /min",
    "rest: pressures": "92 121 87",
    "rest ratio with name": "resting Pd/Pa pressure 0.95",
    "agent, route, dose, start": "adenosine, intravenous, 140 ug/kg/min, from 196 s",
    "evidence of hyperaemia": "distal notch lost: present",
    "change of Pa and rate": "81 /min",
    "FFR with definition": "mean Pd / mean Pa over the same whole beats",
    "FFR beats and time": "301.2 to 306.9 s (7 beats)",
    "FFR interval": "0.82 to 0.86",
    "pullback": "80 mm, 0.06 of it in one step",
    "every injection": "R1, rest 135.0 s 1.21 s",
    "injection with reason": "look again: 12 % longer than the other two at rest",
    "CFR with method": "CFR bolus 2.08",
    "IMR": "IMR bolus 45.6",
    "continuous rates": "rest 10 mL/min; hyperaemia 20 mL/min",
    "wedge pressure": "21 mmHg",
    "venous pressure": "6 mmHg",
    "spasm test: agent, dose": "acetylcholine, intracoronary 20 µg",
    "spasm test: pain, ECG, narrowing": "none no 10 %",
    "spasm test: reliever": "nitrate",
    "final drift": "off: Pd − Pa −2.4 mmHg, ratio 0.974",
    "correction applied or not": "applied to: FFR, drift removed. All others as read",
    "quality summary": "0 stop, 1 caution, 1 note",
    "caution in words": "Drift of −2.4 mmHg at the end.",
    "cut-off and source": "≤ 0.80, above [Johnson2015]",
    "withheld with reason and remedy": "No infusion was found.",
    "statement with intervals": "FFR 0.84 (0.82 to 0.86); CFR 2.08 (1.86 to 2.30)",
    "endotype": "raised resistance, preserved reserve",
    "missing tests": "Not assessed: vasospasm in LCx and RCA",
    "rule table": "default 1",
    "software version": "arteriole 0.1.0",
    "edits by a person": "reader 3: SheetSet. typing slip",
    "signature block": "Read by",
    "simulated": "SIMULATED",
    "caution": CAUTION,
}
POOR = {
    "patient": "Patient not recorded",
    "case": "Case not recorded",
    "vessel and segment": "Vessel, segment not recorded",
    "operator": "Operator not recorded",
    "date": "Date not recorded",
    "circumstances": "Not recorded: Narrowing; Symptoms; Haemoglobin; Last caffeine; Guide",
    "equalisation": "Equalisation not checked",
    "drift": "Drift check not checked",
    "correction": "Drift correction not applied",
    "hyperaemia": "not reached, never steady",
    "signs": "none assessed",
    "injections": "No injection was found or marked.",
    "spasm": "Spasm test: not recorded. Vasospasm was not assessed.",
    "withheld": "Withheld (withheld does not mean normal)",
    "withheld: why": "Pa is damped throughout.",
    "withheld: remedy": "Flush and record again.",
    "pattern": "Pattern: cannot say. Not assessed: vasospasm.",
    "edits": "Edits none",
    "software version": "arteriole 0.1.0",
    "caution": CAUTION,
}
EDIT = EditRecord(id="1", edit=SheetSet(field="vessel", value="LAD"), who="reader 3",
                  when="2026-03-05T10:00:00Z", why="typing slip")  # fmt: skip
#: Where these items stand on paper; all others are on page one.
PAGE_TWO = {"FFR with definition", "FFR beats and time", "pullback"}


def flat(words: str) -> str:
    return " ".join(re.sub(r"[|:]", " ", words.replace("\u200b", "")).split())


def forms(one) -> dict[str, str]:
    pages = pypdf.PdfReader(io.BytesIO(one.pdf())).pages
    html = re.sub(r"<(style|svg).*?</\1>", " ", one.html(), flags=re.DOTALL)
    heads = "Method|Value|95 % interval|Certainty|Published line and source|At|Tmn|Verdict, reason"
    words = {
        "page one": pages[0].extract_text(),
        "page two": pages[1].extract_text(),
        "html": re.sub(r"<[^>]+>", " ", html).replace("&gt;", ">").replace("&lt;", "<"),
        "text": one.text(),
    }
    made = {k: flat(v) for k, v in words.items()}
    # In plain text a cell follows its column's name; without the names the cells stand as in print.
    row_heads = f"{heads}|Heart rate|Pa systolic|Rate × systolic|Agent, route|Amount|Symptoms"
    cells = re.sub(rf"\b(?:{row_heads}|ECG change|Narrowing|Pa(?= \d)|Pd(?= \d))\b", " ",
                   made["text"])  # fmt: skip
    return made | {"text": made["text"] + " " + flat(cells)}


@pytest.fixture(scope="module")
def full_forms(full, signals):
    return forms(letter(full, signals, edits=(EDIT,)))


@pytest.fixture(scope="module")
def poor_forms(poor, signals):
    return forms(letter(poor, signals))


@pytest.mark.parametrize("item", FULL)
def test_full_study_shows(item, full_forms):
    wanted = flat(FULL[item])
    page = "page two" if item in PAGE_TWO else "page one"
    for form in (page, "html", "text"):
        assert wanted in full_forms[form], form


@pytest.mark.parametrize("item", POOR)
def test_poor_study_shows(item, poor_forms):
    for form in ("page one", "html", "text"):
        assert flat(POOR[item]) in poor_forms[form], form


def test_hash_of_the_recording_is_printed_whole(full, full_forms):
    for form in ("page one", "html", "text"):
        assert full.recording.sha256 in full_forms[form], form


def test_every_index_is_there_with_value_or_reason(full, full_forms, poor, poor_forms):
    for result, made in ((full, full_forms), (poor, poor_forms)):
        for index in result.indices:
            assert index.label in made["page one"], index.key
