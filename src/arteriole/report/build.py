"""From a result to the document tree, by the registry of sections."""

from collections.abc import Callable
from dataclasses import replace

from arteriole import CAUTION
from arteriole.figure import Measured
from arteriole.recording.edit import EditRecord
from arteriole.report import (
    behind,
    checks,
    circumstances,
    conclusion,
    doubt,
    evidence,
    haemodynamics,
    infusions,
    injections,
    numbers,
    origin,
    remarks,
    signature,
    spasm,
    workings,
)
from arteriole.report.template import Template, check, reworded
from arteriole.report.tree import Report, Section
from arteriole.study.result import Result

SIMULATED = "SIMULATED: not a person's recording"
_PLAIN: dict[str, Callable[[Result], Section]] = {
    "conclusion": conclusion.section,
    "numbers": numbers.section,
    "haemodynamics": haemodynamics.section,
    "injections": injections.section,
    "infusions": lambda result: replace(infusions.section(result), paper=False),  # in workings
    "checks": checks.section,
    "spasm": spasm.section,
    "doubt": doubt.section,
    "behind": lambda result: replace(behind.section(result), paper=False),  # wider than a page
    "remarks": remarks.section,
    "circumstances": circumstances.section,
    "signature": signature.section,
    "workings": workings.section,
}


def report(
    result: Result,
    signals: Measured,
    *,
    template: Template | None = None,
    edits: tuple[EditRecord, ...] = (),
) -> Report:
    """Return the document tree of a study.

    Raises
    ------
    UnknownKey
        The template names a section there is not, or leaves out one that is always there.
    """
    chosen = template or Template()
    check(chosen)
    sections = [_section(key, result, signals, edits) for key in chosen.order]
    made = Report(
        title=chosen.title,
        banner=SIMULATED if result.simulated else "",
        caution=CAUTION,
        sections=tuple(
            replace(s, heading=chosen.headings.get(s.key, s.heading)) for s in sections if s.blocks
        ),
        identity=f"{result.sheet.case_id or result.recording.name} · arteriole {result.version} · "
        f"{result.statement.rules} · recording {result.recording.sha256[:16]}",
        who=circumstances.who(result),
        logo_svg=chosen.logo_svg,
    )
    return reworded(made, chosen)


def _section(key: str, result: Result, signals: Measured, edits: tuple[EditRecord, ...]) -> Section:
    if key == "origin":
        return origin.section(result, edits)
    if key == "evidence":
        return evidence.section(result, signals)
    return _PLAIN[key](result)
