"""The vault: recordings' own bytes, in folders named by their content.

::

    recordings/ab/ab12…ef/ramp.csv      one folder per recording, files under their own names
"""

import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path

from arteriole.errors import UnreadableRecording

HEX = frozenset("0123456789abcdef")


class Vault:
    """Files are put in whole or not at all, and are never changed."""

    def __init__(self, folder: Path) -> None:
        """Keep recordings under ``folder``."""
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def place_of(self, sha256: str) -> Path:
        """Return the folder of this content, whether or not it is there.

        Raises
        ------
        UnreadableRecording
            Not a SHA-256 in hexadecimal.
        """
        if len(sha256) != 64 or not HEX.issuperset(sha256):
            raise UnreadableRecording(
                f"Content {sha256[:80]!r} is not a SHA-256; 64 hexadecimal digits are needed."
            )
        return self.folder / sha256[:2] / sha256

    def put(self, sha256: str, files: Iterable[Path]) -> bool:
        """Keep copies of the files under this content's folder; False if it was there already."""
        place = self.place_of(sha256)
        if place.is_dir():
            return False
        place.parent.mkdir(parents=True, exist_ok=True)
        drafts = Path(tempfile.mkdtemp(prefix=".draft-", dir=self.folder))
        try:
            for file in files:
                copy = drafts / file.name
                with file.open("rb") as source, copy.open("xb") as target:
                    shutil.copyfileobj(source, target, 1 << 20)
                    target.flush()
                    os.fsync(target.fileno())
                copy.chmod(0o440)
            drafts.rename(place)
        except BaseException:
            shutil.rmtree(drafts, ignore_errors=True)
            raise
        return True

    def files_of(self, sha256: str) -> tuple[Path, ...]:
        """Return the kept files, by name.

        Raises
        ------
        UnreadableRecording
            Nothing is kept under this content.
        """
        place = self.place_of(sha256)
        if not place.is_dir():
            raise UnreadableRecording(
                f"Recording {sha256[:12]}… is not in {self.folder}; its bytes are needed to show "
                "the study. Bring the folder back from a backup."
            )
        return tuple(sorted(place.iterdir()))

    def forget(self, sha256: str) -> None:
        """Take away what was put in by an import that then failed."""
        shutil.rmtree(self.place_of(sha256), ignore_errors=True)


def content_of(files: Iterable[Path]) -> str:
    """Return the SHA-256 of the files' bytes, in the given order."""
    digest = hashlib.sha256()
    for file in files:
        with file.open("rb") as stream:
            while block := stream.read(1 << 20):
                digest.update(block)
    return digest.hexdigest()
