"""What ``analyse`` and ``bag`` write beside the result: letters, open standards, tables, a bag."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from arteriole.cli.outputs import write_file
from arteriole.errors import OptionError
from arteriole.recording import EditRecord, Sheet
from arteriole.report.template import Template, template_from_mapping
from arteriole.report.templates import NAMES, named_template
from arteriole.study import Measurement, Result

if TYPE_CHECKING:
    from arteriole.report.plain_letter import TextEdit

FORMS = (".pdf", ".html", ".txt")
LARGEST_LOGO = 300_000  # bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Files and folders asked for; None: not asked."""

    html: Path | None = None
    pdf: Path | None = None
    letter_html: Path | None = None
    letter_text: Path | None = None
    plain_letter: Path | None = None
    fhir: Path | None = None
    sr: Path | None = None
    dicom_pdf: Path | None = None
    waveform: Path | None = None
    tables: Path | None = None
    bag: Path | None = None

    @property
    def any(self) -> bool:
        """Whether anything was asked for."""
        return any(getattr(self, f.name) is not None for f in fields(self))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A study with what it was made from; ``sheet`` is the one before the edits."""

    result: Result
    measurement: Measurement
    sheet: Sheet
    originals: Sequence[Path] = ()
    edits: tuple[EditRecord, ...] = ()
    analysis: Mapping[str, Any] = field(default_factory=dict)
    plain_words: "tuple[TextEdit, ...]" = ()


def check_forms(asked: Asked, paper: str) -> None:
    """Refuse what cannot be written before anything is computed.

    Raises
    ------
    OptionError
        A paper or an ending that is not known, or a bag that is there already.
    """
    if paper not in {"a4", "letter"}:
        raise OptionError(f"--paper was given {paper!r}; allowed: a4, letter. Choose one of them.")
    plain = asked.plain_letter
    if plain is not None and plain.suffix.lower() not in FORMS:
        raise OptionError(
            f"--plain-letter was given {plain}; endings are: {', '.join(FORMS)}. Choose one."
        )
    if asked.bag is not None and asked.bag.exists():
        raise OptionError(
            f"--bag {asked.bag} is there already; a new folder is needed. Name another."
        )


def write_exports(
    asked: Asked,
    case: Case,
    tell: Callable[[str], None],
    *,
    paper: str = "a4",
    template: Template | None = None,
) -> None:
    """Write everything that was asked for, each file whole or not at all."""
    from arteriole.report.html import study_page
    from arteriole.report.letter import letter

    result, seen, at = (
        case.result,
        case.measurement,
        datetime.now(UTC).isoformat(timespec="seconds"),
    )
    one = letter(result, seen, paper=paper, template=template, edits=case.edits)
    made: dict[str, bytes] = {}

    def pdf() -> bytes:
        if "pdf" not in made:
            made["pdf"] = one.pdf()
        return made["pdf"]

    def put(path: Path | None, content: Callable[[], bytes]) -> None:
        if path is not None:
            write_file(path, content())
            tell(f"wrote {path}")

    put(asked.html, lambda: study_page(result, seen, edits=case.edits).encode())
    put(asked.pdf, pdf)
    put(asked.letter_html, lambda: one.html().encode())
    put(asked.letter_text, lambda: one.text().encode())
    put(asked.plain_letter, lambda: _plain(case, paper, asked.plain_letter, template))
    put(asked.fhir, lambda: _fhir(case, at, pdf()))
    put(asked.sr, lambda: _sr(case, at))
    put(asked.dicom_pdf, lambda: _dicom_pdf(case, at, pdf()))
    _write_waveform(asked.waveform, case, tell)
    _write_tables(asked.tables, case, tell)
    if asked.bag is not None:
        _write_bag(asked.bag, case, pdf(), one.text().encode())
        tell(f"wrote {asked.bag}")


def template_of(asked: str | None) -> Template | None:
    """Return a template by name, or a laboratory's own from a JSON or TOML file.

    A field ``logo`` names an SVG file beside it.

    Raises
    ------
    OptionError
        A name, a field or a logo that cannot be used.
    """
    from arteriole.formats.sheet_file import read_mapping

    if asked is None:
        return None
    path = Path(asked)
    if asked in NAMES or path.suffix.lower() not in {".json", ".toml"}:
        return named_template(asked)
    given = dict(read_mapping(path, "template"))
    logo = given.pop("logo", None)
    if logo is not None:
        given["logo_svg"] = _logo(path.parent / str(logo))
    return template_from_mapping(given)


def plain_words_of(path: Path | None) -> "tuple[TextEdit, ...]":
    """Return a clinician's words for the Plain Letter from a JSON or TOML file.

    The file holds ``who``, ``when`` and ``words``, a table of block names and words.

    Raises
    ------
    OptionError
        One of these is missing or of another kind.
    """
    from arteriole.formats.sheet_file import read_mapping
    from arteriole.report.plain_letter import TextEdit

    if path is None:
        return ()
    given = read_mapping(path, "plain words")
    who, when, words = (given.get(k) for k in ("who", "when", "words"))
    if not (isinstance(who, str) and isinstance(when, str) and isinstance(words, dict)):
        raise OptionError(
            f"--plain-words {path} holds {', '.join(map(str, given)) or 'nothing'}; who, when and "
            "a table of words are needed, so that every change is on record. Add them."
        )
    return tuple(TextEdit(key=str(k), words=str(v), who=who, when=when) for k, v in words.items())


def _logo(path: Path) -> str:
    try:
        words = path.read_text("utf-8") if path.stat().st_size <= LARGEST_LOGO else ""
    except (OSError, UnicodeDecodeError):
        words = ""
    if "<svg" not in words:
        raise OptionError(
            f"Logo {path} is no SVG of at most {LARGEST_LOGO} bytes; one is needed. Correct its "
            "path or make it smaller."
        )
    return words


def _plain(case: Case, paper: str, path: Path | None, template: Template | None) -> bytes:
    from arteriole.report.plain_letter import plain_letter

    one = plain_letter(case.result, edits=case.plain_words, paper=paper, template=template)
    ending = path.suffix.lower() if path else ""
    return one.pdf() if ending == ".pdf" else (
        one.html() if ending == ".html" else one.text()).encode()  # fmt: skip


def _fhir(case: Case, at: str, pdf: bytes) -> bytes:
    from arteriole.exchange.fhir import bundle

    text = bundle(
        case.result, at=at, recording=case.measurement.recording, pdf=pdf, edits=case.edits
    )
    return text.encode()


def _sr(case: Case, at: str) -> bytes:
    from arteriole.exchange.dicom import structured_report

    return structured_report(case.result, at=at)


def _dicom_pdf(case: Case, at: str, pdf: bytes) -> bytes:
    from arteriole.exchange.dicom import encapsulated_pdf

    return encapsulated_pdf(case.result, pdf, at=at)


def _write_waveform(path: Path | None, case: Case, tell: Callable[[str], None]) -> None:
    from dataclasses import replace

    from arteriole.formats import write_recording

    if path is None:
        return
    if path.suffix.lower() != ".dcm":
        raise OptionError(f"--waveform was given {path}; the ending .dcm is needed. Add it.")
    sheet = replace(case.result.sheet, marks=())
    write_recording(replace(case.measurement.recording, sheet=sheet), path, lossy=True)
    tell(f"wrote {path}")


def _write_tables(folder: Path | None, case: Case, tell: Callable[[str], None]) -> None:
    from arteriole.exchange.tables import tables, to_csv, to_parquet

    if folder is None:
        return
    try:
        folder.mkdir(exist_ok=True)
    except OSError as fault:
        raise OptionError(
            f"Folder {folder} could not be made ({fault.strerror}); a folder for the tables is "
            "needed. Choose another."
        ) from None
    for name, rows in tables(case.result, case.measurement).items():
        write_file(folder / f"{name}.csv", to_csv(rows).encode())
        write_file(folder / f"{name}.parquet", to_parquet(rows))
    tell(f"wrote tables in {folder}")


def _write_bag(folder: Path, case: Case, pdf: bytes, text: bytes) -> None:
    from arteriole.exchange.bag import write_bag

    write_bag(
        folder, case.result, originals=case.originals, recording=case.measurement.recording,
        sheet=case.sheet, edits=case.edits, analysis=case.analysis,
        documents={"letter.pdf": pdf, "letter.txt": text},
        beside=[b for p in case.originals for b in _beside(p)],
    )  # fmt: skip


def _beside(path: Path) -> list[Path]:
    """Return the files that a WFDB header speaks for: those of its name beside it."""
    if path.suffix.lower() != ".hea":
        return []
    return sorted(p for p in path.parent.glob(f"{path.stem}*") if p.is_file() and p != path)
