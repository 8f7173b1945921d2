"""The Letter page and what leaves a study: letters, open standards, tables, the case bag."""

import io
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import htpy as h
from fastapi import APIRouter, Query, Request, Response

from arteriole import CAUTION
from arteriole.errors import OptionError, UnknownKey
from arteriole.store import Store
from arteriole.web.desk import Desk, Reading
from arteriole.web.page import Face, page

exports = APIRouter(prefix="/api/v1/studies/{study_id}/exports")
PDF, ZIP, DICOM = "application/pdf", "application/zip", "application/dicom"
HTML, TEXT = "text/html; charset=utf-8", "text/plain; charset=utf-8"
PAPERS = ("a4", "letter")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """A study as it stands, and how its exports are wanted."""

    reading: Reading
    store: Store
    at: str
    paper: str = "a4"
    template: str = ""

    @property
    def words(self) -> Any:
        """The template asked for, or none."""
        from arteriole.report.templates import named_template

        return named_template(self.template) if self.template else None

    @property
    def letter(self) -> Any:
        """The Letter in all its forms."""
        from arteriole.report.letter import letter

        return letter(
            self.reading.result, self.reading.laid.measurement, paper=self.paper,
            template=self.words, edits=self.reading.edits,
        )  # fmt: skip


def _plain(asked: Asked) -> Any:
    from arteriole.report.plain_letter import plain_letter

    return plain_letter(asked.reading.result, paper=asked.paper, template=asked.words)


def _study_page(asked: Asked) -> bytes:
    from arteriole.report.html import study_page

    reading = asked.reading
    return study_page(reading.result, reading.laid.measurement, edits=reading.edits).encode()


def _document(asked: Asked) -> bytes:
    from arteriole.document import canonical_bytes

    return canonical_bytes(asked.reading.result)


def _fhir(asked: Asked) -> bytes:
    from arteriole.exchange.fhir import bundle

    reading = asked.reading
    text = bundle(
        reading.result, at=asked.at, recording=reading.laid.recording, pdf=asked.letter.pdf(),
        edits=reading.edits, signed=reading.row.state == "signed",
    )  # fmt: skip
    return text.encode()


def _report(asked: Asked) -> bytes:
    from arteriole.exchange.dicom import structured_report

    return structured_report(asked.reading.result, at=asked.at)


def _envelope(asked: Asked) -> bytes:
    from arteriole.exchange.dicom import encapsulated_pdf

    return encapsulated_pdf(asked.reading.result, asked.letter.pdf(), at=asked.at)


def _waveform(asked: Asked) -> bytes:
    from arteriole.formats import write_recording

    sheet = replace(asked.reading.result.sheet, marks=())
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "waveform.dcm"
        write_recording(replace(asked.reading.laid.recording, sheet=sheet), path, lossy=True)
        return path.read_bytes()


def _tables(asked: Asked) -> bytes:
    from arteriole.exchange.tables import tables, to_csv, to_parquet

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as box:
        for name, rows in tables(asked.reading.result, asked.reading.laid.measurement).items():
            box.writestr(f"{name}.csv", to_csv(rows))
            box.writestr(f"{name}.parquet", to_parquet(rows))
    return out.getvalue()


def _bag(asked: Asked) -> bytes:
    from arteriole.exchange.bag import write_bag

    reading, store, letter = asked.reading, asked.store, asked.letter
    row = reading.row
    mains = [store.main_file(row.id, k) for k in range(len(row.recordings))]
    beside = [f for one in row.recordings for f in store.vault.files_of(one.sha256)
              if f not in mains]  # fmt: skip
    how = {
        "ledger": True,
        "column_maps": [one.column_map for one in row.recordings],
        "rate_hz": row.sheet.get("rate_hz"),
        "software": reading.result.version,
    }
    out = io.BytesIO()
    with tempfile.TemporaryDirectory() as place:
        folder = write_bag(
            Path(place) / "case-bag", reading.result, originals=mains, beside=beside,
            recording=reading.laid.recording, sheet=store.first_sheet(row.id),
            edits=reading.edits, analysis=how,
            documents={"letter.pdf": letter.pdf(), "letter.txt": letter.text().encode()},
        )  # fmt: skip
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as box:
            for path in sorted(p for p in folder.rglob("*") if p.is_file()):
                box.write(path, Path("case-bag") / path.relative_to(folder))
    return out.getvalue()


#: name of the file -> (media type, maker), in the order of the page.
KINDS: dict[str, tuple[str, Callable[[Asked], bytes]]] = {
    "letter.pdf": (PDF, lambda a: bytes(a.letter.pdf())),
    "letter.html": (HTML, lambda a: str(a.letter.html()).encode()),
    "letter.txt": (TEXT, lambda a: str(a.letter.text()).encode()),
    "plain-letter.pdf": (PDF, lambda a: bytes(_plain(a).pdf())),
    "plain-letter.html": (HTML, lambda a: str(_plain(a).html()).encode()),
    "plain-letter.txt": (TEXT, lambda a: str(_plain(a).text()).encode()),
    "study.html": (HTML, _study_page),
    "result.json": ("application/json", _document),
    "fhir.json": ("application/fhir+json", _fhir),
    "report.dcm": (DICOM, _report),
    "letter.dcm": (DICOM, _envelope),
    "waveform.dcm": (DICOM, _waveform),
    "tables.zip": (ZIP, _tables),
    "case-bag.zip": (ZIP, _bag),
}
#: What a laboratory's paper and words change.
ON_PAPER = frozenset({"letter.pdf", "plain-letter.pdf", "letter.dcm"})


@exports.get("")
def list_exports(request: Request, study_id: str) -> dict[str, Any]:
    """Return the exports there are, with their addresses and media types."""
    desk: Desk = request.app.state.desk
    desk.store.study(study_id)
    return {
        "caution": CAUTION,
        "exports": [
            {"name": name, "media_type": media, "href": f"{request.url.path}/{name}"}
            for name, (media, _) in KINDS.items()
        ],
    }


@exports.get("/{name}", response_class=Response)
def export(
    request: Request,
    study_id: str,
    name: str,
    paper: str = "a4",
    template: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """Return one export of the study as it stands; see the list for the names."""
    desk: Desk = request.app.state.desk
    if name not in KINDS:
        raise UnknownKey(f"Export {name[:40]!r} is not known; there are: {', '.join(KINDS)}.")
    if paper not in PAPERS:
        raise OptionError(f"Paper {paper[:20]!r} was asked for; allowed: {', '.join(PAPERS)}.")
    media, make = KINDS[name]
    reading = desk.open(study_id)
    asked = Asked(
        reading=reading, store=desk.store, paper=paper, template=template,
        at=datetime.now(UTC).isoformat(timespec="seconds"),
    )  # fmt: skip
    simulated = reading.result.simulated or reading.row.simulated
    stem, _, ending = name.rpartition(".")
    file = f"{stem}-{study_id[:8]}{'-SIMULATED' if simulated else ''}.{ending}"
    return Response(
        make(asked), media_type=media,
        headers={"content-disposition": f'attachment; filename="{file}"',
                 "cache-control": "no-store"},
    )  # fmt: skip


def letter_page(face: Face, reading: Reading) -> str:
    """Return the page that offers every export of a study."""
    t, row = face.t, reading.row
    src = f"/api/v1/studies/{row.id}/exports"
    words = f"&template={face.language}" if face.language == "de" else ""
    return page(
        face, t("letter.title", title=row.title),
        h.h1[t("letter.title", title=row.title)],
        h.p(".soft")[t("letter.intro")],
        h.section(".panel")[h.div(".scroll")[h.table("#exports")[
            h.thead[h.tr[(h.th(scope="col")[t(f"letter.{k}")] for k in ("what", "files"))]],
            h.tbody[(
                h.tr[h.th(scope="row")[t(f"letter.{key}")], h.td[_links(src, names, words)]]
                for key, names in GROUPS
            )],
        ]]],
        script="plain.js", simulated=reading.result.simulated or row.simulated,
        current="letter", study_id=row.id,
    )  # fmt: skip


#: What stands in one row of the page.
GROUPS = (
    ("letter", ("letter.pdf", "letter.html", "letter.txt")),
    ("plain", ("plain-letter.pdf", "plain-letter.html", "plain-letter.txt")),
    ("study", ("study.html", "result.json")),
    ("fhir", ("fhir.json",)),
    ("dicom", ("report.dcm", "letter.dcm", "waveform.dcm")),
    ("tables", ("tables.zip",)),
    ("bag", ("case-bag.zip",)),
)


def _links(src: str, names: tuple[str, ...], words: str) -> list[h.Node]:
    rows: list[h.Node] = []
    for name in names:
        if name in ON_PAPER:
            rows += [
                [h.a(href=f"{src}/{name}?paper={paper}{words}", download=True)[
                    f"{name} ({'A4' if paper == 'a4' else 'Letter'})"], " "]
                for paper in PAPERS
            ]  # fmt: skip
        else:
            query = f"?{words[1:]}" if words and "letter" in name else ""
            rows.append([h.a(href=f"{src}/{name}{query}", download=True)[name], " "])
    return rows
