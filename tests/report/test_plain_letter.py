import io
import re

import pypdf
import pytest
import textstat

from arteriole.errors import UnknownKey
from arteriole.interpret.statement import Statement
from arteriole.report.plain_letter import _MEANINGS, TextEdit, plain_letter

GRADE = 8.0  # our aim: read with ease by most adults


def body(letter) -> str:
    return " ".join(b.words for s in letter.tree.sections for b in s.blocks if hasattr(b, "words"))


@pytest.mark.parametrize("pattern", sorted(_MEANINGS))
def test_reading_grade_is_at_most_eight(full, pattern):
    from dataclasses import replace

    said = Statement(pattern=pattern, sentence="", because=(), not_assessed=("spasm",), rules="")
    words = body(plain_letter(replace(full, statement=said)))
    # Both count letters, words and sentences alone, so no word list has to be fetched.
    assert textstat.automated_readability_index(words) <= GRADE
    assert textstat.coleman_liau_index(words) <= GRADE
    assert not re.search(r"\b(should|must|take|stent|risk|recover|drug|pill|dose)\b", words)


@pytest.mark.parametrize(
    "untested",
    [("vasospasm",), ("vasospasm (test inconclusive)",), ("vasospasm (weak negative)",),
     ("epicardial obstruction", "microvascular function", "vasospasm"), ()],
)  # fmt: skip
def test_what_was_not_tested_is_said_in_everyday_words(full, untested):
    from dataclasses import replace

    said = replace(full.statement, not_assessed=untested)
    words = body(plain_letter(replace(full, statement=said)))
    assert textstat.automated_readability_index(words) <= GRADE
    assert textstat.coleman_liau_index(words) <= GRADE
    assert all(u in words for u in untested)
    assert ("close up for a short time" in words) == any("vasospasm" in u for u in untested)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_plain_letter_is_one_page_in_large_type(full, paper):
    reader = pypdf.PdfReader(io.BytesIO(plain_letter(full, paper=paper).pdf()))
    assert len(reader.pages) == 1
    sizes = []

    def seen(text, _matrix, frame, _font, size):
        if "A thin wire" in text:
            sizes.append(size * abs(frame[0]))

    reader.pages[0].extract_text(visitor_text=seen)
    assert sizes
    assert min(sizes) >= 12


def test_clinician_words_are_tracked(full):
    edit = TextEdit(key="found", words="We saw narrow small vessels.", who="reader 3",
                    when="2026-03-05")  # fmt: skip
    letter = plain_letter(full, edits=[edit])
    assert "We saw narrow small vessels." in letter.text()
    assert "words by reader 3, 2026-03-05" in letter.text()
    assert dict(letter.originals)["found"].startswith("The small vessels")


def test_edit_of_an_unknown_block_lists_the_blocks(full):
    with pytest.raises(UnknownKey, match="blocks are: why, found"):
        plain_letter(full, edits=[TextEdit(key="x", words="", who="", when="")])


def test_every_form_says_simulated_and_that_the_doctor_decides(full):
    letter = plain_letter(full)
    for form in (letter.text(), letter.html()):
        assert "SIMULATED" in form
        assert "Your doctor decides" in form
    assert letter.pdf().startswith(b"%PDF")


@pytest.mark.parametrize("pattern", sorted(_MEANINGS))
def test_german_plain_letter_is_german_and_easy(full, pattern):
    from dataclasses import replace

    from arteriole.report.templates import named_template

    said = Statement(
        pattern=pattern, sentence="", because=(), not_assessed=("vasospasm",), rules=""
    )
    one = plain_letter(replace(full, statement=said), template=named_template("de"))
    words = body(one)
    english = re.findall(r"\b(?:the|your|you|test was|blood|vessels|we)\b", words)
    assert not english
    assert one.tree.language == "de"
    assert "sagt Ihnen, was das für Sie heißt" in words
    # Its own formula: school years, after Bamberger and Vanecek.
    textstat.set_lang("de")
    try:
        assert textstat.wiener_sachtextformel(words, 1) <= GRADE
    finally:
        textstat.set_lang("en")
