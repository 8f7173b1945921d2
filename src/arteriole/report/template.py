"""A laboratory's template: its words, headings, order and logo; never a number."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from arteriole.errors import OptionError, UnknownKey
from arteriole.report import SECTIONS
from arteriole.report.tree import Block, Bullets, Facts, Lines, Paragraph, Report, Section, Table

#: What no template may leave out; our choice, decision 0082.
ALWAYS = ("conclusion", "numbers", "checks", "origin", "signature")
#: Where sentences are made of fixed phrases; elsewhere only whole parts are replaced, so what a
#: person typed stays as typed.
_PHRASED = frozenset({"conclusion", "checks", "numbers"})
_FIELDS = ("title", "language", "headings", "words", "order", "logo_svg")
#: What a word may not change: numbers, relations, signs, units.
_FIXED = re.compile(
    r"\d+(?:[.,]\d+)*|[≤≥<>=−±%]|(?<!\w)(?:mmHg|kPa|mL|ml|[µm]?g|g/dL|°C|K|Hz|min|m?s|[cm]m|U|L)(?!\w)"
)
SHORTEST = 4  # letters of a word that is replaced inside a cell wherever it stands
NOTHING = r"(?!)"  # matches nowhere
_MARKS = frozenset({"● ", "◐ ", "○ ", "× "})
_LANGUAGE = re.compile(r"[a-z]{2,3}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """Title, language, headings by section key, words by our own words, order, logo.

    ``order`` may leave sections out only if they are not in ``ALWAYS``.
    """

    title: str = "Coronary physiology letter"
    headings: Mapping[str, str] = field(default_factory=dict)
    order: Sequence[str] = SECTIONS
    logo_svg: str | None = None
    words: Mapping[str, str] = field(default_factory=dict)
    language: str = "en"


def template_from_mapping(given: Mapping[str, Any]) -> Template:
    """Return a template from parsed JSON or TOML.

    Raises
    ------
    OptionError
        A field there is not, or one of a wrong kind.
    UnknownKey
        A section there is not.
    """
    for key, value in given.items():
        if key not in _FIELDS:
            raise OptionError(
                f"Template field {key!r} is not known; allowed: {', '.join(_FIELDS)}. Correct it."
            )
        fits = (
            isinstance(value, dict) and all(isinstance(v, str) for v in value.values())
            if key in {"headings", "words"}
            else isinstance(value, list | tuple) and all(isinstance(v, str) for v in value)
            if key == "order"
            else isinstance(value, str)
        )
        if not fits:
            raise OptionError(
                f"Template field {key} was given {str(value)[:40]!r}; words are needed "
                "(headings, words: a table of words; order: a list). Correct it."
            )
    made = Template(**given)
    check(made)
    return made


def check(template: Template) -> None:
    """Refuse a template that cannot be used.

    Raises
    ------
    UnknownKey
        It names a section there is not, or leaves out one that is always there.
    OptionError
        One of its words holds a number, or its language is no language code.
    """
    for key in (*template.order, *template.headings):
        if key not in SECTIONS:
            raise UnknownKey(
                f"Template names section {key!r}; sections are: {', '.join(SECTIONS)}. Correct it."
            )
    missing = [k for k in ALWAYS if k not in template.order]
    if missing:
        raise UnknownKey(
            f"Template leaves out {', '.join(missing)}; a letter always has "
            f"{', '.join(ALWAYS)}. Add them to its order."
        )
    for ours, theirs in template.words.items():
        if not ours or _FIXED.findall(ours) != _FIXED.findall(theirs):
            raise OptionError(
                f"Template puts {theirs[:60]!r} for {ours[:60]!r}; words may be changed, numbers, "
                "signs and units may not. Keep them as they are."
            )
    if not _LANGUAGE.fullmatch(template.language):
        raise OptionError(
            f"Template language {template.language[:20]!r} was given; a code like en or de is "
            "needed. Correct it."
        )


def reworded(report: Report, template: Template) -> Report:
    """Return the report in the template's words; every number stands as before."""
    if not template.words:
        return replace(report, language=template.language)
    say = _Sayer(template.words)
    return replace(
        report,
        language=template.language,
        who=tuple((say.whole(k), say.whole(v)) for k, v in report.who),
        sections=tuple(_section(s, say) for s in report.sections),
    )


def in_words_of(template: Template | None) -> Callable[[str], str]:
    """Return how a template says our sentences; without one they stay as they are."""
    if template is None or not template.words:
        return str
    return _Sayer(template.words).sentence


class _Sayer:
    """Says our words in a template's words."""

    def __init__(self, words: Mapping[str, str]) -> None:
        self._words = dict(words)
        self._in_cells = _any_of(w for w in words if not (w.isalpha() and len(w) < SHORTEST))
        self._in_sentences = _any_of(w for w in words if not w.isalpha())
        short = "|".join(re.escape(w) for w in words if w.isalpha() and len(w) < SHORTEST)
        self._between = re.compile(rf"(?<=[\d%] )(?:{short or NOTHING})(?= [−\d])")

    def __contains__(self, said: str) -> bool:
        """Return whether these very words have others."""
        return said in self._words

    def whole(self, said: str) -> str:
        """Replace the whole, or whole parts of a list: what a person typed stays as typed."""
        if said in self._words:
            return self._words[said]
        if said[:2] in _MARKS:  # a verdict with its mark, then the reason
            verdict, colon, why = said[2:].partition(": ")
            return f"{said[:2]}{self._words.get(verdict, verdict)}{colon}{why}"
        return "; ".join(
            ", ".join(self._words.get(p, p) for p in part.split(", ")) for part in said.split("; ")
        )

    def phrases(self, said: str) -> str:
        """Replace every phrase of a cell, the longest first; short words between numbers only."""
        told = self._between.sub(lambda m: self._words[m.group()], said)
        return self._in_cells.sub(lambda m: self._words[m.group()], told)

    def sentence(self, said: str) -> str:
        """Replace phrases of several words: a word alone may stand in a sentence we do not know."""
        told = self._between.sub(lambda m: self._words[m.group()], said)
        return self._in_sentences.sub(lambda m: self._words[m.group()], told)


def _any_of(words: Iterable[str]) -> re.Pattern[str]:
    """Return a pattern of these words, the longest first, none within another word."""
    rows = [
        rf"{'(?<!' + chr(92) + 'w)' if w[0].isalnum() else ''}{re.escape(w)}"
        rf"{'(?!' + chr(92) + 'w)' if w[-1].isalnum() else ''}"
        for w in sorted(words, key=lambda w: (-len(w), w))
    ]
    return re.compile("|".join(rows) or NOTHING)


def _section(section: Section, say: _Sayer) -> Section:
    ours = section.key in _PHRASED
    cell = say.phrases if ours else say.whole
    line = say.sentence if ours else say.whole
    return replace(section, blocks=tuple(_block(b, say, cell, line) for b in section.blocks))


def _block(
    block: Block, say: _Sayer, cell: Callable[[str], str], line: Callable[[str], str]
) -> Block:
    match block:
        case Paragraph(words=words):
            return replace(block, words=_lead(words, say, line))
        case Bullets(rows=rows, shorter=shorter):
            return replace(block, rows=tuple(line(r) for r in rows),
                           shorter=tuple(replace(s, rows=tuple(line(r) for r in s.rows))
                                         for s in shorter))  # fmt: skip
        case Facts(rows=pairs):
            return replace(block, rows=tuple((say.whole(k), cell(v)) for k, v in pairs),
                           typed=frozenset(say.whole(k) for k in block.typed))  # fmt: skip
        case Table():
            return _table(block, say, cell)
        case Lines(labels=labels):
            return replace(block, labels=tuple(say.whole(x) for x in labels))
        case _:
            return replace(block, caption=say.whole(block.caption))


def _lead(words: str, say: _Sayer, line: Callable[[str], str]) -> str:
    """Say a sentence; one that opens a list by its name keeps the list's parts whole."""
    name, colon, rest = words.partition(": ")
    if words in say or not colon or line != say.whole:
        return say.whole(words) if words in say else line(words)
    stop = "." if rest.endswith(".") else ""
    return f"{say.whole(name)}{colon}{say.whole(rest.removesuffix('.'))}{stop}"


def _table(table: Table, say: _Sayer, cell: Callable[[str], str]) -> Table:
    # Running rows are sentences of findings and reasons: only whole ones are replaced.
    each = say.whole if table.running else cell
    return replace(
        table, caption=say.whole(table.caption), head=tuple(say.whole(h) for h in table.head),
        rows=tuple(tuple(each(c) for c in r) for r in table.rows),
        shorter=tuple(_table(s, say, cell) for s in table.shorter),
    )  # fmt: skip
