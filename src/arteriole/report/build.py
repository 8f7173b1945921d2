"""From a result to the document tree, by the registry of sections."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from arteriole import CAUTION
from arteriole.errors import UnknownKey
from arteriole.figure import Measured
from arteriole.recording.edit import EditRecord
from arteriole.report import (
    SECTIONS,
    checks,
    circumstances,
    conclusion,
    doubt,
    evidence,
    haemodynamics,
    injections,
    numbers,
    origin,
    remarks,
    signature,
    spasm,
    workings,
)
from arteriole.report.tree import Report, Section
from arteriole.study.result import Result

SIMULATED = "SIMULATED: not a person's recording"
_PLAIN: dict[str, Callable[[Result], Section]] = {
    "conclusion": conclusion.section,
    "numbers": numbers.section,
    "haemodynamics": haemodynamics.section,
    "injections": injections.section,
    "checks": checks.section,
    "spasm": spasm.section,
    "doubt": doubt.section,
    "remarks": remarks.section,
    "circumstances": circumstances.section,
    "signature": signature.section,
    "workings": workings.section,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A laboratory's wording: title, headings by section key, order, logo. Never numbers.

    ``order`` may leave sections out only if they are not in ``ALWAYS``.
    """

    title: str = "Coronary physiology letter"
    headings: Mapping[str, str] = field(default_factory=dict)
    order: Sequence[str] = SECTIONS
    logo_svg: str | None = None


#: What no template may leave out; our choice, decision 0082.
ALWAYS = ("conclusion", "numbers", "checks", "origin", "signature")


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
    _check(chosen)
    sections = [_section(key, result, signals, edits) for key in chosen.order]
    return Report(
        title=chosen.title,
        banner=SIMULATED if result.simulated else "",
        caution=CAUTION,
        sections=tuple(
            replace(s, heading=chosen.headings.get(s.key, s.heading)) for s in sections if s.blocks
        ),
        identity=f"{result.sheet.case_id or result.recording.name} · arteriole {result.version} · "
        f"{result.statement.rules} · recording {result.recording.sha256[:16]}",
        logo_svg=chosen.logo_svg,
    )


def _section(key: str, result: Result, signals: Measured, edits: tuple[EditRecord, ...]) -> Section:
    if key == "origin":
        return origin.section(result, edits)
    if key == "evidence":
        return evidence.section(result, signals)
    return _PLAIN[key](result)


def _check(template: Template) -> None:
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
