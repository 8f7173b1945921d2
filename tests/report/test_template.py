"""A template changes words; numbers, signs and units stay as they are."""

import io
import re
from collections import Counter

import pypdf
import pytest

from arteriole.errors import OptionError, UnknownKey
from arteriole.report.letter import letter
from arteriole.report.template import Template, template_from_mapping
from arteriole.report.templates import NAMES, named_template

NUMBER = re.compile(r"\d+(?:\.\d+)*")


def numbers(tree) -> Counter:
    return Counter(NUMBER.findall(repr([(s.key, s.blocks) for s in tree.sections])))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("study", ["full", "poor"])
def test_named_templates_leave_every_number_as_it_is(name, study, signals, request):
    result = request.getfixturevalue(study)
    own = letter(result, signals, template=named_template(name))
    assert numbers(own.tree) == numbers(letter(result, signals).tree)


def test_german_letter_is_german_where_the_words_are_fixed(full, signals):
    own = letter(full, signals, template=named_template("de"))
    said = own.text()
    for words in ("Befund der Koronarphysiologie", "Beurteilung", "Messwerte", "Druckabgleich",
                  "Nicht untersucht: Vasospasmus" if "vasospasm in" not in said else
                  "Nicht untersucht", "Befundet von", "Muster: erhöhter Widerstand",
                  "verwertbar", "Führungskatheter", "Regelwerk", "darüber"):  # fmt: skip
        assert words in said, words
    assert 'lang="de"' in own.html()
    assert b"/Lang(de)" in own.pdf().replace(b" ", b"")
    assert "Not a medical device" in said  # the caution is never reworded


def test_words_a_person_typed_stay_as_typed(full, signals):
    from dataclasses import replace

    typed = replace(full, sheet=replace(full.sheet, free_text="rest was short, usable or not"))
    said = letter(typed, signals, template=named_template("de")).text()
    assert "rest was short, usable or not" in said


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("usable", "2 of 3"),
        ("0.84", "0.74"),
        ("≤", ">"),
        ("6 mmHg", "6 kPa"),
        ("95 % interval", "x"),
    ],
)
def test_a_template_that_changes_a_number_sign_or_unit_is_refused(ours, theirs):
    with pytest.raises(OptionError, match="numbers"):
        template_from_mapping({"words": {ours: theirs}})


@pytest.mark.parametrize(
    "given",
    [{"colour": "red"}, {"title": 3}, {"order": "numbers"}, {"words": {"a": 1}},
     {"language": "<script>"}],
)  # fmt: skip
def test_a_template_that_cannot_be_used_says_why(given):
    with pytest.raises(OptionError, match=r"Correct it|allowed"):
        template_from_mapping(given)


def test_an_unknown_heading_lists_the_sections():
    with pytest.raises(UnknownKey, match="sections are: conclusion"):
        template_from_mapping({"headings": {"nonsense": "x"}})


def test_unknown_name_lists_the_named_ones():
    with pytest.raises(OptionError, match="named ones are: de"):
        named_template("fr")


def test_logo_stands_in_every_printed_form(full, signals):
    logo = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><path d="M0 0H9"/></svg>'
    own = letter(full, signals, template=Template(logo_svg=logo))
    assert "data:image/svg+xml;base64," in own.html()
    assert own.pdf() != letter(full, signals).pdf()


def test_a_broken_logo_is_refused_in_words(full, signals):
    with pytest.raises(OptionError, match="logo cannot be drawn"):
        letter(full, signals, template=Template(logo_svg="<svg><oops")).pdf()


@pytest.mark.parametrize("shape", ["0 0 10 10", "0 0 900 10", "0 0 10 900"])
def test_a_logo_of_any_shape_leaves_two_pages_and_every_word(full, signals, shape):
    logo = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{shape}"><path d="M0 0H9V9"/></svg>'
    pages = pypdf.PdfReader(
        io.BytesIO(letter(full, signals, template=Template(logo_svg=logo)).pdf())
    ).pages
    assert len(pages) == 2
    said = pages[0].extract_text()
    assert "2026-03-04" in said
    assert "Not a medical device" in said


def test_words_the_fonts_lack_are_written_by_number_wherever_they_stand(full, signals):
    own = Template(
        title="山", headings={"numbers": "山"},
        words=dict.fromkeys(("Index", "Read by", "Case", "Findings", "usable", "Pattern:"), "山"),
    )  # fmt: skip
    pages = pypdf.PdfReader(io.BytesIO(letter(full, signals, template=own).pdf())).pages
    assert pages[0].extract_text().count("[U+5C71]") >= 7
