"""Take in a recording: names, sizes and kinds are judged before anything is kept."""

import csv
import io
import re
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO, Any

from arteriole.errors import ArterioleError, UnreadableRecording
from arteriole.recording import Recording, Sheet
from arteriole.recording.sheet import sheet_from_mapping
from arteriole.store import Store, StudyRow
from arteriole.web.apart import survive
from arteriole.web.conductor import Conductor

MOST_FILES = 12  # one recording of several files, such as a WFDB header with its signals
MOST_NAME = 120
#: Signatures of packed files and of things that are no recording.
PACKED = {b"PK\x03\x04": "zip", b"PK\x05\x06": "zip", b"\x1f\x8b": "gzip", b"BZh": "bzip2",
          b"\xfd7zXZ": "xz", b"7z\xbc\xaf": "7z", b"Rar!": "rar",
          b"(\xb5/\xfd": "zstd"}  # fmt: skip
FOREIGN = {b"%PDF": "a PDF document", b"\x89PNG": "a picture", b"\xff\xd8\xff": "a picture",
           b"GIF8": "a picture", b"MZ": "a program", b"\x7fELF": "a program",
           b"<!DOCTYPE": "a web page", b"<html": "a web page"}  # fmt: skip
#: Suffix by which a file of several is the one to read, in this order.
HEADERS = (".hea", ".h5", ".hdf5", ".edf", ".bdf", ".dcm", ".csv", ".tsv", ".txt")
DRAWN_LINES = 6


def plain_name(given: str) -> str:
    """Return the name of an upload, which may be shown and used as a file name.

    Raises
    ------
    UnreadableRecording
        A name with a path in it, control characters, nothing, or too much.
    """
    name = given.strip()
    if re.search(r"[/\\:\x00-\x1f\x7f]", name) or name in {"", ".", ".."} or name.startswith("."):
        raise UnreadableRecording(
            f"File name {given[:60]!r} holds a path or cannot be shown; a plain name such as "
            "case.csv is needed. Rename the file and drop it again."
        )
    if len(name.encode()) > MOST_NAME:
        raise UnreadableRecording(
            f"File name has {len(name.encode())} bytes; at most {MOST_NAME} are taken. Shorten it."
        )
    return name


def judge(name: str, head: bytes, size: int) -> None:
    """Refuse what cannot be a recording from its first bytes.

    Raises
    ------
    UnreadableRecording
        Nothing in it, packed, of a known other kind, or nothing but zero bytes.
    """
    if size == 0:
        raise UnreadableRecording(f"{name!r} has 0 bytes; a recording is needed. Export it again.")
    for signature, kind in PACKED.items():
        if head.startswith(signature):
            raise UnreadableRecording(
                f"{name!r} is packed ({kind}); packed files are not opened. Unpack it and drop the "
                "recording itself."
            )
    for signature, kind in FOREIGN.items():
        if head.startswith(signature):
            raise UnreadableRecording(
                f"{name!r} is {kind}; a recording (CSV, EDF+, WFDB, HDF5, DICOM) is needed. Drop "
                "the exported signal."
            )
    if not head.strip(b"\0"):
        raise UnreadableRecording(
            f"{name!r} begins with {len(head)} zero bytes; a recording begins with a header. "
            "Export it again."
        )


def take_in(
    store: Store,
    conductor: Conductor,
    uploads: Sequence[tuple[str, IO[bytes]]],
    *,
    who: str,
    column_map: dict[str, str] | None = None,
    sheet: Any = None,
    title: str = "",
    run_of: str = "",
) -> StudyRow:
    """Read the uploads as one recording and return its study; on failure nothing is kept.

    A JSON or TOML file among them is the sheet. ``run_of``: id of the study that gets the
    recording as a further run; otherwise a new study is made.

    Raises
    ------
    ArterioleError
        What cannot be read, with what to do.
    """
    if not 1 <= len(uploads) <= MOST_FILES:
        raise UnreadableRecording(
            f"{len(uploads)} files were dropped; 1 to {MOST_FILES} make one recording. Drop fewer."
        )
    with tempfile.TemporaryDirectory(prefix="arteriole-import-") as folder:
        files = [_write(Path(folder), name, stream) for name, stream in uploads]
        try:
            files, given = _without_sheet(files, sheet_from_mapping(sheet) if sheet else None)
            recording = _read(conductor, files[0], column_map or {}, given)
        except ArterioleError as fault:
            raise type(fault)(str(fault).replace(folder + "/", "")) from None
        if run_of:
            return store.add_run(run_of, recording, files, who=who, column_map=column_map)
        if given is None:
            given = recording.sheet or Sheet()
            given = replace(given, marks=given.marks or recording.marks)
        return store.add_study(
            recording, files, sheet=given, who=who, title=title, column_map=column_map
        )


def _read(
    conductor: Conductor, file: Path, column_map: dict[str, str], sheet: Sheet | None
) -> Recording:
    survive(file)
    try:
        return conductor.read(file, column_map, {"rate_hz": sheet.rate_hz if sheet else None})
    except ArterioleError:
        raise
    except Exception as fault:
        # Hostile bytes can break a parser anywhere; to the sender it is one thing.
        raise UnreadableRecording(
            f"{file.name!r} could not be read ({type(fault).__name__}); a whole recording "
            "is needed. Export it again, or look at it with arteriole check."
        ) from fault


def _without_sheet(files: list[Path], given: Sheet | None) -> tuple[list[Path], Sheet | None]:
    """Return the recording's files, the one to read first, and the sheet if one is among them."""
    from arteriole.formats.sheet_file import read_sheet

    sheets = [f for f in files if len(files) > 1 and f.suffix.lower() in {".json", ".toml"}]
    if len(sheets) > 1:
        raise UnreadableRecording(
            f"{len(sheets)} sheets were dropped ({', '.join(f.name for f in sheets)}); one "
            "recording has one. Drop them one by one."
        )
    rest = sorted((f for f in files if f not in sheets), key=_rank)
    return rest, read_sheet(sheets[0]) if sheets else given


def preview(stream: IO[bytes]) -> list[list[str]]:
    """Return the first rows of a text table, cells cut to 24 characters."""
    stream.seek(0)
    text = stream.read(64_000).decode("utf-8-sig", errors="replace")
    lines = [x for x in text.splitlines() if x.strip() and not x.startswith("#")][:DRAWN_LINES]
    if not lines:
        return []
    mark = max("\t;,", key=lines[0].count)
    return [[c.strip()[:24] for c in row] for row in
            csv.reader(io.StringIO("\n".join(lines)), delimiter=mark)]  # fmt: skip


def _write(folder: Path, given: str, stream: IO[bytes]) -> Path:
    name = plain_name(given)
    head = stream.read(4096)
    size = stream.seek(0, io.SEEK_END)
    judge(name, head, size)
    stream.seek(0)
    path = folder / name
    if path.exists():
        raise UnreadableRecording(f"Two files are called {name!r}; each needs its own name.")
    with path.open("xb") as out:
        shutil.copyfileobj(stream, out, 1 << 20)
    return path


def _rank(path: Path) -> tuple[int, str]:
    suffix = path.suffix.lower()
    return (HEADERS.index(suffix) if suffix in HEADERS else len(HEADERS), path.name)
