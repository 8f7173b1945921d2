"""Files in, recordings out, and back: one module per format behind one registry."""

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from arteriole.errors import FormatLimit, UnreadableRecording
from arteriole.formats import csv, dicom, edf, hdf5, wfdb
from arteriole.formats.files import Format, Request, load
from arteriole.recording import Recording, Sheet

#: Formats that are read, in the order in which their content is tried; text comes last.
READERS: Final[tuple[Format, ...]] = (
    hdf5.FORMAT, edf.FORMAT, dicom.FORMAT, wfdb.FORMAT, csv.FORMAT,
)  # fmt: skip
#: Formats that are written.
WRITERS: Final[tuple[Format, ...]] = tuple(k for k in READERS if k.write is not None)
_HEAD = 4096


def sniff(head: bytes, ending: str) -> Format | None:
    """Return the format by content, then by the name's ending; None when neither tells."""
    for kind in READERS:
        if kind.sniff(head):
            return kind
    return next((kind for kind in READERS if ending.lower() in kind.endings), None)


def read_recording(
    path: Path,
    *,
    column_map: Mapping[str, str] | None = None,
    sheet: Sheet | None = None,
    rate_hz: float | None = None,
) -> Recording:
    """Return the recording in a file; ``rate_hz`` counts before the sheet's.

    Raises
    ------
    UnreadableRecording
        Missing, damaged, or not a recording.
    ChannelUnclear
        A column whose meaning would have to be guessed.
    """
    path = Path(path)
    content = load(path)
    kind = sniff(content[:_HEAD], path.suffix)
    if kind is None:
        raise UnreadableRecording(
            f"{path} is not a recording that is known; read are: "
            f"{', '.join(k.key for k in READERS)}. Export it as one of these."
        )
    rate = rate_hz if rate_hz is not None or sheet is None else sheet.rate_hz
    request = Request(column_map=dict(column_map or {}), rate_hz=rate)
    recording = kind.read(path, content, request)
    if not any(c.values.size for c in recording.channels):
        raise UnreadableRecording(f"{path} holds no samples; a recording is needed. Check it.")
    return recording


def write_recording(recording: Recording, path: Path, *, lossy: bool = False) -> None:
    """Write a recording in the format of the path's ending, whole or not at all.

    Raises
    ------
    FormatLimit
        An ending that is not written, or something the format cannot hold without ``lossy``.
    """
    path = Path(path)
    kind = next((k for k in WRITERS if path.suffix.lower() in k.endings), None)
    if kind is None or kind.write is None:
        raise FormatLimit(
            f"Ending {path.suffix!r} is not written; allowed: "
            f"{', '.join(e for k in WRITERS for e in k.endings)}. Choose one of these."
        )
    kind.write(recording, path, lossy)
