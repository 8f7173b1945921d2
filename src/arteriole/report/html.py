"""The study page: statement, pictures and workings of one study in one HTML file."""

from dataclasses import replace

from arteriole.figure import Measured
from arteriole.recording.edit import EditRecord
from arteriole.report.build import report
from arteriole.report.page import render
from arteriole.report.template import Template
from arteriole.study.result import Result

#: On a screen the pictures come right after the numbers.
ORDER = (
    "conclusion", "numbers", "evidence", "haemodynamics", "injections", "infusions", "checks",
    "remarks", "doubt", "behind", "spasm",
    "workings", "circumstances", "origin",
)  # fmt: skip


def study_page(result: Result, signals: Measured, *, edits: tuple[EditRecord, ...] = ()) -> str:
    """Return one self-contained page; it needs no network, no script and prints on paper."""
    tree = report(
        result, signals, edits=edits, template=Template(title="Coronary physiology study",
                                                        order=(*ORDER, "signature")),
    )  # fmt: skip
    kept = tuple(s for s in tree.sections if s.key != "signature")
    return render(replace(tree, sections=kept))
