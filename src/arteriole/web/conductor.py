"""The functions a desk calls, in one value, so that a test can lay its own on the desk."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from arteriole.recording import Recording
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
    """Return arteriole's own functions; heavy rooms are loaded here, not at start."""
    from arteriole.document import canonical_bytes, to_json
    from arteriole.formats import read_recording
    from arteriole.recording import Settings
    from arteriole.study import decide, measure

    def read(path: Path, column_map: dict[str, str], sheet: dict[str, Any]) -> Recording:
        return read_recording(path, column_map=column_map, rate_hz=sheet.get("rate_hz"))

    def decided(measurement: Any, effective: Effective, version: str) -> Result:
        return decide(
            measurement, effective.sheet, effective.marks, effective.settings, effective.rules,
            version,
        )  # fmt: skip

    return Conductor(
        read=read,
        measure=lambda recording: measure(recording, Settings()),
        decide=decided,
        to_json=to_json,
        to_bytes=canonical_bytes,
    )
