"""The functions a desk calls, in one value, so that a test can lay its own on the desk."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from arteriole.recording import Recording, Settings
from arteriole.recording.edit import Effective
from arteriole.study.result import Result


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """Read a file, measure a recording, decide a study, write its document."""

    read: Callable[[Path, dict[str, str], dict[str, Any]], Recording]
    measure: Callable[[Recording], Any]
    decide: Callable[[Any, Effective, str], Result]
    to_json: Callable[[Result], dict[str, Any]]
    to_bytes: Callable[[Result], bytes]


def own_conductor() -> Conductor:
    """Return arteriole's own functions; heavy rooms are loaded at the first call, not at start."""

    def read(path: Path, column_map: dict[str, str], sheet: dict[str, Any]) -> Recording:
        from arteriole.formats import read_recording

        return read_recording(path, column_map=column_map, rate_hz=sheet.get("rate_hz"))

    def measured(recording: Recording) -> Any:
        from arteriole.study import measure

        return measure(recording, Settings())

    def decided(measurement: Any, effective: Effective, version: str) -> Result:
        from arteriole.study import decide

        return decide(
            measurement, effective.sheet, effective.marks, effective.settings, effective.rules,
            version,
        )  # fmt: skip

    def to_json(result: Result) -> dict[str, Any]:
        from arteriole.document import to_json

        return to_json(result)

    def to_bytes(result: Result) -> bytes:
        from arteriole.document import canonical_bytes

        return canonical_bytes(result)

    return Conductor(
        read=read, measure=measured, decide=decided, to_json=to_json, to_bytes=to_bytes
    )
