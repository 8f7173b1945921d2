"""The case bag: one study as a BagIt folder (RFC 8493), made and read back [RFC8493].

Payload: ``recording/`` the original bytes, ``recording.edf`` the same for general readers (an EDF
holds no gaps: lost samples are bridged there, never in the original), ``sheet.json``,
``edits.json`` (the ledger), ``result.json``, ``analysis.json`` (how it was analysed: which files
are read in which order, named columns, settings, rules), and whatever documents are given. A
recording whose name is taken lies in ``recording/run-2/`` and so on, under its own name.
"""

import hashlib
import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from arteriole import CAUTION
from arteriole.document import canonical_bytes
from arteriole.errors import FormatLimit, OptionError, UnreadableRecording
from arteriole.formats import write_recording
from arteriole.recording.edit import EditRecord
from arteriole.recording.recording import Recording
from arteriole.recording.sheet import Sheet, sheet_from_mapping, sheet_to_mapping
from arteriole.store.edit_json import edit_from_mapping, edit_to_mapping
from arteriole.study.result import Result

LONGEST_BAG = 4 << 30  # bytes; more is refused before it is read; our choice, decision 0086
MOST_FILES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseBag:
    """A bag as read: original files, sheet, edits, the result's bytes, other documents.

    ``recordings`` are those of the originals that are read, in their order.
    """

    originals: tuple[Path, ...]
    sheet: Sheet
    edits: tuple[EditRecord, ...]
    result: bytes
    documents: Mapping[str, Path]
    recordings: tuple[Path, ...] = ()
    analysis: Mapping[str, Any] = field(default_factory=dict)


def write_bag(
    folder: Path,
    result: Result,
    *,
    originals: Sequence[Path],
    recording: Recording,
    sheet: Sheet,
    edits: Sequence[EditRecord] = (),
    documents: Mapping[str, bytes] | None = None,
    analysis: Mapping[str, Any] | None = None,
    beside: Sequence[Path] = (),
) -> Path:
    """Write the bag and return its folder; ``sheet`` is the one before the edits.

    ``beside`` are files that belong to an original and are not read by themselves, as the samples
    of a WFDB header; ``analysis`` is what :func:`arteriole.exchange.restore.restored` needs.

    Raises
    ------
    OptionError
        The folder is there already, cannot be written, or no original is named.
    """
    if folder.exists():
        raise OptionError(f"Bag {folder} is there already; a new folder is needed. Name another.")
    if not originals:
        raise OptionError("No original was named for the bag; at least one file is needed.")
    places = _places(originals)
    payload = {f"recording/{place}": p.read_bytes() for p, place in places.items()}
    for one in beside:  # stays with the first original of its folder
        friend = next(p for p in originals if p.parent == one.parent)
        near = PurePosixPath(places[friend]).with_name(one.name)
        payload.setdefault(f"recording/{near}", one.read_bytes())
    rows = [
        {"id": e.id, "who": e.who, "when": e.when, "why": e.why, "edit": edit_to_mapping(e.edit)}
        for e in edits
    ]
    payload |= {
        "sheet.json": _json(sheet_to_mapping(sheet)),
        "edits.json": _json(rows),
        "result.json": canonical_bytes(result),
        "analysis.json": _json({"recordings": [places[p] for p in originals], **(analysis or {})}),
    }
    payload |= {f"documents/{_safe(k)}": v for k, v in (documents or {}).items()}
    edf = _edf(recording)
    if edf is not None:
        payload["recording.edf"] = edf
    about = {
        "External-Identifier": result.recording.sha256,
        "External-Description": "Coronary physiology study" + (
            ", SIMULATED" if result.simulated else ""),
        "Caution": CAUTION,
        "Bag-Software-Agent": f"arteriole {result.version}",
        "Payload-Oxum": f"{sum(map(len, payload.values()))}.{len(payload)}",
    }  # fmt: skip
    tags = {
        "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "bag-info.txt": "".join(f"{k}: {v}\n" for k, v in about.items()).encode(),
        "manifest-sha256.txt": _manifest({f"data/{k}": v for k, v in payload.items()}),
    }
    tags["tagmanifest-sha256.txt"] = _manifest(tags)
    whole = {**tags, **{f"data/{k}": v for k, v in payload.items()}}
    # Built beside its place and moved there whole: half a bag never bears the name.
    try:
        with tempfile.TemporaryDirectory(dir=folder.parent, prefix=".bag-") as draft:
            built = Path(draft) / "bag"
            for name, content in whole.items():
                target = built / name
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content)
            built.rename(folder)
    except OSError as fault:
        raise OptionError(
            f"Bag {folder} could not be written ({fault.strerror}); a place with room in a folder "
            "that is there is needed. Choose another."
        ) from None
    return folder


def _places(originals: Sequence[Path]) -> dict[Path, str]:
    """Return where each original lies below ``recording/``: its own name, apart from its like."""
    taken: dict[str, int] = {}
    places: dict[Path, str] = {}
    for p in dict.fromkeys(originals):
        run = taken[p.name] = taken.get(p.name, 0) + 1
        places[p] = p.name if run == 1 else f"run-{run}/{p.name}"
    return places


def read_bag(folder: Path) -> CaseBag:
    """Return a bag's content after every checksum has been compared.

    Raises
    ------
    UnreadableRecording
        Not a case bag, a checksum that differs, a file missing or unlisted, or too large.
    """
    if not (folder / "bagit.txt").is_file():
        raise UnreadableRecording(f"{folder} is not a bag (no bagit.txt); name a case bag.")
    _compare(folder, "tagmanifest-sha256.txt")
    listed = _compare(folder, "manifest-sha256.txt")
    there = {p.relative_to(folder).as_posix() for p in (folder / "data").rglob("*") if p.is_file()}
    if there != listed:
        odd = ", ".join(sorted(there ^ listed)[:3])
        raise UnreadableRecording(f"Bag {folder}: {odd} is missing or unlisted; get a whole copy.")
    data = folder / "data"
    originals = tuple(sorted(p for p in (data / "recording").rglob("*") if p.is_file()))
    if not originals:
        raise UnreadableRecording(f"Bag {folder} holds no recording; a case bag is needed.")
    try:
        sheet = json.loads((data / "sheet.json").read_bytes())
        rows = json.loads((data / "edits.json").read_bytes())
        edits = tuple(
            EditRecord(id=r["id"], who=r["who"], when=r["when"], why=r["why"],
                       edit=edit_from_mapping(r["edit"])) for r in rows
        )  # fmt: skip
        result = (data / "result.json").read_bytes()
        # Bags of the first version have no analysis.json; all originals are read as they lie.
        how = data / "analysis.json"
        analysis = json.loads(how.read_bytes()) if how.is_file() else {}
        recordings = tuple(data / "recording" / r for r in analysis.get("recordings", ()))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as fault:
        raise UnreadableRecording(
            f"Bag {folder} is no case bag ({fault}); one written by arteriole is needed."
        ) from None
    if not set(recordings) <= set(originals):
        raise UnreadableRecording(f"Bag {folder} names recordings it does not hold; get a copy.")
    shelf = data / "documents"
    return CaseBag(
        originals=originals,
        recordings=recordings or originals,
        analysis=analysis,
        sheet=sheet_from_mapping(sheet),
        edits=edits,
        result=result,
        documents={p.name: p for p in sorted(shelf.glob("*"))} if shelf.is_dir() else {},
    )


def _compare(folder: Path, manifest: str) -> set[str]:
    listed: set[str] = set()
    weight = 0
    try:
        lines = (folder / manifest).read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        raise UnreadableRecording(f"Bag {folder} has no {manifest}; get a whole copy.") from None
    for line in lines[: MOST_FILES + 1]:
        wanted, _, name = line.partition("  ")
        name = name.replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%")
        part = PurePosixPath(name)
        path = folder / part
        if part.is_absolute() or ".." in part.parts or path.is_symlink() or not path.is_file():
            raise UnreadableRecording(f"Bag {folder}: {name!r} is not a file in it; get a copy.")
        weight += path.stat().st_size
        if weight > LONGEST_BAG or len(listed) >= MOST_FILES:
            raise UnreadableRecording(f"Bag {folder} is too large; at most 4 GiB in 1000 files.")
        with path.open("rb") as content:
            found = hashlib.file_digest(content, "sha256").hexdigest()
        if found != wanted.lower():
            raise UnreadableRecording(f"Bag {folder}: {name} was changed; get a whole copy.")
        listed.add(name)
    return listed


def _manifest(files: Mapping[str, bytes]) -> bytes:
    rows = []
    for name, content in sorted(files.items()):
        written = name.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")
        rows.append(f"{hashlib.sha256(content).hexdigest()}  {written}\n")
    return "".join(rows).encode()


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _safe(name: str) -> str:
    if not name or "/" in name or "\\" in name or name in {".", ".."}:
        raise OptionError(f"Document {name!r} was given; a plain file name is needed.")
    return name


def _edf(recording: Recording) -> bytes | None:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "recording.edf"
        try:
            write_recording(recording, path, lossy=True)
        except FormatLimit:
            return None
        return path.read_bytes()
