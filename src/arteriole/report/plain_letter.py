"""The Plain Letter: what was measured, in everyday words. No advice, no outlook, no drug names."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from arteriole import CAUTION
from arteriole.errors import UnknownKey
from arteriole.report import page, paper, text
from arteriole.report.build import SIMULATED
from arteriole.report.template import Template, in_words_of
from arteriole.report.tree import Block, Bullets, Lines, Paragraph, Report, Section
from arteriole.report.words import plain, value
from arteriole.study.result import Result

#: What each pattern means in everyday words; it names what was seen, never what to do.
_MEANINGS = {
    "obstructive epicardial": "A large heart artery has a tight spot that slows the blood.",
    "structural microvascular": "The small vessels of the heart let through less blood than "
    "most. They do not open up well.",
    "functional microvascular": "The small vessels of the heart are wide open at rest. They "
    "have less room to open more.",
    "raised resistance, preserved reserve": "The small vessels of the heart push back more than "
    "most. The blood flow could still rise well in the test.",
    "epicardial and microvascular": "A large heart artery has a tight spot. The small vessels "
    "also let through less blood than most.",
    "epicardial spasm": "A large heart artery closed up for a short time in the test.",
    "microvascular spasm": "The small vessels of the heart closed up for a short time in the test.",
    "mixed": "More than one cause was seen in the test.",
    "spasm test inconclusive": "The test for spasm gave no clear answer.",
    "no abnormality measured": "In the parts that we tested, we saw nothing out of the ordinary.",
    "cannot say": "The test did not give a clear answer.",
}
_UNTESTED = {
    "vasospasm": "if your heart arteries can close up for a short time",
    "microvascular": "how the small vessels of the heart work",
    "epicardial": "if a large heart artery has a tight spot",
}
_NUMBERS = {
    "ffr": "Pressure past the narrow spot, set against the pressure before it (FFR)",
    "cfr_bolus": "How many times the blood flow could rise (CFR)",
    "cfr_continuous": "How many times the blood flow could rise (CFR)",
    "imr": "How hard the small vessels push back (IMR)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TextEdit:
    """A clinician's words in place of a block's; the first words are kept beside them."""

    key: str
    words: str
    who: str
    when: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainLetter:
    """A letter for the person examined, with every edit on record."""

    tree: Report
    edits: tuple[TextEdit, ...]
    originals: tuple[tuple[str, str], ...]
    paper: str = "a4"

    def html(self) -> str:
        """Return a self-contained page without scripts."""
        return page.render(self.tree)

    def pdf(self) -> bytes:
        """Return PDF/A-2a with PDF/UA-1 tags."""
        return paper.render(self.tree, self.paper)

    def text(self) -> str:
        """Return plain text."""
        return text.render(self.tree)


def _everyday(untested: str) -> str:
    """Return what was not tested in everyday words; a clinician's word stays beside them."""
    for word, said in _UNTESTED.items():
        if untested.startswith(word):
            return f"{said} ({untested})"
    return untested


def _blocks(result: Result) -> dict[str, str]:
    missing = result.statement.not_assessed
    where = f" The test was done in this artery: {result.sheet.vessel}." if (
        result.sheet.vessel) else ""  # fmt: skip
    named = ", ".join(dict.fromkeys(_everyday(m) for m in missing))
    untested = (
        f"Some things were not tested: {named}. So we cannot tell you about them."
        if missing
        else "This letter speaks only of the parts that we tested."
    )
    return {
        "why": "You had a test of the blood flow in your heart. A thin wire was used to measure "
        f"the pressure and the flow of the blood.{where}",
        "found": _MEANINGS[result.statement.pattern],
        "untested": untested,
        "sure": "No test is exact. Each number could be a bit more or a bit less.",
        "next": "Your doctor decides what this means for you. Please bring this letter to your "
        "next visit and ask what you want to know.",
    }


_HEADINGS = {"why": "Your test", "found": "What we saw", "untested": "What we did not test",
             "sure": "How sure we are", "next": "Your doctor"}  # fmt: skip


def plain_letter(
    result: Result,
    *,
    edits: Sequence[TextEdit] = (),
    paper: str = "a4",
    template: Template | None = None,
) -> PlainLetter:
    """Return the letter for the person examined, in a template's words where one is given.

    Raises
    ------
    UnknownKey
        An edit of a block there is not.
    """
    say = in_words_of(template)
    said = {key: say(words) for key, words in _blocks(result).items()}
    headings = {key: say(words) for key, words in _HEADINGS.items()}
    originals: dict[str, str] = {}
    for edit in edits:
        if edit.key not in said:
            raise UnknownKey(
                f"Edit names block {edit.key!r}; blocks are: {', '.join(said)}. Choose one."
            )
        originals.setdefault(edit.key, said[edit.key])
        said[edit.key] = edit.words
    sections = [
        Section(key=k, heading=headings[k], blocks=(Paragraph(words=w),)) for k, w in said.items()
    ]
    rows = [
        f"{say(_NUMBERS[i.key])}: {value(i)}"
        for i in result.indices
        if i.key in _NUMBERS and i.value is not None
    ]
    if rows:
        found = sections[1]
        blocks: tuple[Block, ...] = (*found.blocks, Bullets(rows=tuple(rows)))
        sections[1] = replace(found, blocks=blocks)
    if edits:
        notes = tuple(f"{headings[e.key]}: words by {e.who}, {e.when}" for e in edits)
        changed = (Bullets(rows=notes),)
        sections.append(Section(key="edits", heading=say("Changed words"), blocks=changed))
    date = template.words.get("Date", "Date") if template else "Date"
    lines = Lines(labels=("Name", date))
    sections.append(Section(key="sign", heading=say("Signed"), blocks=(lines,)))
    tree = Report(
        title=say("Letter about your heart test"),
        language=template.language if template else "en",
        banner=SIMULATED if result.simulated else "",
        caution=CAUTION, sections=tuple(sections),
        large=True,
        identity=f"{plain(result.sheet.case_id)} · arteriole {result.version}",
    )  # fmt: skip
    return PlainLetter(tree=tree, edits=tuple(edits), originals=tuple(originals.items()),
                       paper=paper)  # fmt: skip
