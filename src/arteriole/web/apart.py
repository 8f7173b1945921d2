"""Read an upload in a process of its own first, where its parser is native code.

The HDF5 library can crash or hang on forged bytes, and a crash would end the server for
everybody. What a separate process survives is read again here; the same bytes take the same path.
"""

import subprocess
import sys
from pathlib import Path

from arteriole.errors import UnreadableRecording

#: Endings and first bytes of formats whose parser is not Python.
NATIVE_HEAD = b"\x89HDF\r\n\x1a\n"
#: Our choice: the longest allowed recording reads in a tenth of it, decision 0075.
PATIENCE_S = 30.0
_PROGRAM = (
    "import sys; from pathlib import Path; from arteriole.errors import ArterioleError\n"
    "from arteriole.formats import read_recording\n"
    "try:\n    read_recording(Path(sys.argv[1]))\n"
    "except ArterioleError:\n    pass\n"
)


def survive(file: Path, *, patience_s: float = PATIENCE_S) -> None:
    """Return when a process of its own has read ``file`` without falling or hanging.

    What is wrong with the content is left to the caller's own reading, which says it better.

    Raises
    ------
    UnreadableRecording
        The reading process fell or did not come back within ``patience_s`` seconds.
    """
    with file.open("rb") as start:
        if start.read(len(NATIVE_HEAD)) != NATIVE_HEAD:
            return
    try:
        end = subprocess.run(  # noqa: S603 - our own interpreter, our own words
            [sys.executable, "-c", _PROGRAM, str(file)],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            timeout=patience_s, check=False,
        )  # fmt: skip
        why = "" if end.returncode == 0 else "breaks the library that reads it"
    except subprocess.TimeoutExpired:
        why = f"was not read within {patience_s:g} s"
    if why:
        raise UnreadableRecording(
            f"{file.name!r} {why}; a whole recording is needed. Write it again with arteriole "
            "convert."
        )
