"""Bytes in with a size limit, files out whole or not at all, and what every format declares."""

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from arteriole.errors import UnreadableRecording
from arteriole.recording import Recording

#: Largest file and largest decoded signal that is read, bytes; our choice, decision 0010.
MAX_BYTES = 1 << 30
#: Largest number of samples of one channel: 8 h at 2 kHz; our choice, decision 0010.
MAX_SAMPLES = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What the caller knows: named columns and the rate of a file without time stamps."""

    column_map: Mapping[str, str] = field(default_factory=dict)
    rate_hz: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One file format: how it is recognised, read and written (None: only read)."""

    key: str
    endings: tuple[str, ...]
    sniff: Callable[[bytes], bool]
    read: Callable[[Path, bytes, Request], Recording]
    write: Callable[[Recording, Path, bool], None] | None


def load(path: Path) -> bytes:
    """Return the file's bytes.

    Raises
    ------
    UnreadableRecording
        Missing, a folder, not readable, empty or larger than ``MAX_BYTES``.
    """
    try:
        if not path.is_file():
            what = "is not a plain file" if path.exists() else "does not exist"
            raise UnreadableRecording(f"{path} {what}; a recording file is needed. Check the path.")
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise UnreadableRecording(
                f"{path} has {size} bytes; at most {MAX_BYTES} are read. Split the recording."
            )
        content = path.read_bytes()
    except OSError as fault:
        raise UnreadableRecording(
            f"{path} cannot be read ({fault.strerror}); a readable file is needed. "
            "Check its permissions."
        ) from None
    except ValueError:
        raise UnreadableRecording(
            f"{str(path)!r} is no path; a file is needed. Check its name."
        ) from None
    if not content:
        raise UnreadableRecording(f"{path} is empty; a recording is needed. Export it again.")
    return content


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Yield a temporary path; on success it is synced and takes the place of ``path``.

    Raises
    ------
    UnreadableRecording
        The folder is missing or cannot be written.
    """
    name: Path | None = None
    try:
        handle, text = tempfile.mkstemp(dir=path.parent, prefix=".arteriole-", suffix=path.suffix)
        os.close(handle)
        name = Path(text)
        yield name
        with name.open("rb+") as out:
            os.fsync(out.fileno())
        name.chmod(0o644)
        name.replace(path)
    except OSError as fault:
        raise UnreadableRecording(
            f"{path} cannot be written ({fault.strerror or fault}); a writable place with room is "
            "needed. Choose another path."
        ) from None
    finally:
        if name is not None:
            name.unlink(missing_ok=True)
