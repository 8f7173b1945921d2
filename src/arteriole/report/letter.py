"""The Letter: one report for the referring doctor, as HTML, PDF and plain text."""

from dataclasses import dataclass

from arteriole.figure import Measured
from arteriole.recording.edit import EditRecord
from arteriole.report import page, paper, text
from arteriole.report.build import report
from arteriole.report.template import Template
from arteriole.report.tree import Report
from arteriole.study.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One document tree, three forms; all three say the same."""

    tree: Report
    paper: str = "a4"

    def html(self) -> str:
        """Return a self-contained page without scripts."""
        return page.render(self.tree)

    def pdf(self) -> bytes:
        """Return PDF/A-2a with PDF/UA-1 tags; same tree, same bytes."""
        return paper.render(self.tree, self.paper)

    def text(self) -> str:
        """Return plain text."""
        return text.render(self.tree)


def letter(
    result: Result,
    signals: Measured,
    *,
    paper: str = "a4",
    template: Template | None = None,
    edits: tuple[EditRecord, ...] = (),
) -> Letter:
    """Return the Letter of a study. ``paper`` is ``a4`` or ``letter``.

    Raises
    ------
    UnknownKey
        A template with an unknown section, or without one that is always there.
    """
    return Letter(tree=report(result, signals, template=template, edits=edits), paper=paper)
