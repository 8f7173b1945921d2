"""What several verbs share at the border: output files written whole or not at all."""

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from arteriole.errors import OptionError


def write_file(path: Path, content: bytes) -> None:
    """Write a file whole: a failure leaves what was there before.

    Raises
    ------
    OptionError
        The folder is missing or cannot be written.
    """
    folder = path.parent
    if not folder.is_dir():
        raise OptionError(
            f"Output {path} was asked for, but folder {folder} does not exist; a path in an "
            "existing folder is needed; make the folder first."
        )
    if path.is_dir():
        raise OptionError(f"Output {path} is a folder; a file name is needed; add one.")
    name = None
    try:
        with tempfile.NamedTemporaryFile(dir=folder, delete=False, prefix=".arteriole-") as out:
            name = Path(out.name)
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        name.chmod(0o644)
        name.replace(path)
    except OSError as fault:
        if name is not None:
            name.unlink(missing_ok=True)
        raise OptionError(
            f"Output {path} could not be written ({fault.strerror}); a writable place with room "
            "is needed; choose another path."
        ) from None


def parse_assignments(given: Iterable[str], option: str, example: str) -> dict[str, str]:
    """Return KEY=VALUE words as a mapping.

    Raises
    ------
    OptionError
        A word without ``=`` or with an empty side.
    """
    pairs: dict[str, str] = {}
    for word in given:
        key, sign, value = word.partition("=")
        if not (key.strip() and sign and value.strip()):
            raise OptionError(
                f"{option} was given {word!r}; the form is {example}; write it like that."
            )
        pairs[key.strip()] = value.strip()
    return pairs
