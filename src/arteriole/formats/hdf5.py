"""HDF5: the lossless container, one dataset per channel with its own rate and checksum."""

import hashlib
import io
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.errors import UnreadableRecording
from arteriole.formats.files import MAX_BYTES, Format, Request, whole
from arteriole.recording import Channel, Finding, Mark, Recording
from arteriole.recording.sheet import sheet_from_mapping, sheet_to_mapping

LAYOUT = "arteriole.recording/1"
_CHUNK = 65_536
#: Ends every file, before the SHA-256 of all bytes ahead of it. The HDF5 library can crash the
#: process on a damaged file, so damage is found before the library sees a byte.
_SEAL = b"ARTERIOLE-SHA256"
_SEAL_BYTES = len(_SEAL) + 32


def _sniff(head: bytes) -> bool:
    return head.startswith(b"\x89HDF\r\n\x1a\n")


def _refuse(path: Path, why: str) -> UnreadableRecording:
    return UnreadableRecording(
        f"{path} {why}; a recording of layout {LAYOUT} is needed. Write it again with "
        "arteriole convert."
    )


def _read(path: Path, content: bytes, request: Request) -> Recording:
    del request  # names and rates are in the container
    import h5py

    body, seal = content[:-_SEAL_BYTES], content[-_SEAL_BYTES:]
    if seal != _SEAL + hashlib.sha256(body).digest():
        raise _refuse(path, "is damaged, cut short, or not written by arteriole")
    try:
        with h5py.File(io.BytesIO(body), "r") as file:
            return _inside(path, content, file, h5py)
    except UnreadableRecording:
        raise
    except Exception as fault:  # noqa: BLE001 - the library fails in many ways on broken files
        raise _refuse(path, f"is damaged ({type(fault).__name__})") from None


def _inside(path: Path, content: bytes, file: Any, h5py: Any) -> Recording:
    if file.attrs.get("layout") != LAYOUT:
        raise _refuse(path, "has another layout")
    about = json.loads(file.attrs["about"])
    total = 0
    channels = []
    for row in about["channels"]:
        place = str(row["dataset"])
        if not isinstance(file.get(place, getlink=True), h5py.HardLink):
            raise _refuse(path, "links outside itself")
        held = file[place]
        if held.external or held.is_virtual or held.ndim != 1 or held.dtype.kind not in "fi":
            raise _refuse(path, f"has a dataset {place!r} that is no plain row of numbers")
        total += held.shape[0] * 8
        if total > MAX_BYTES:
            raise _refuse(path, f"claims {total} bytes of samples, {MAX_BYTES} are allowed")
        values = held[()].astype(np.float64, copy=False)
        if hashlib.sha256(values.tobytes()).hexdigest() != row["sha256"]:
            raise _refuse(path, f"has a channel {row['name']!r} whose checksum does not match")
        channels.append(Channel(
            name=row["name"], unit=row["unit"], rate_hz=float(row["rate_hz"]), values=values,
            start_s=float(row["start_s"]), quantum=float(row["quantum"]),
        ))  # fmt: skip
    return Recording(
        name=path.name, sha256=hashlib.sha256(content).hexdigest(), format="hdf5",
        channels=tuple(channels), findings=tuple(Finding(**f) for f in about["findings"]),
        sheet=None if about["sheet"] is None else sheet_from_mapping(about["sheet"]),
        marks=tuple(Mark(**m) for m in about["marks"]), simulated=bool(about["simulated"]),
        extras={str(k): str(v) for k, v in about["extras"].items()},
    )  # fmt: skip


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    del lossy  # nothing is lost
    import h5py

    rows = [
        {"dataset": f"channel_{k}", "name": c.name, "unit": c.unit, "rate_hz": c.rate_hz,
         "start_s": c.start_s, "quantum": c.quantum,
         "sha256": hashlib.sha256(c.values.tobytes()).hexdigest()}
        for k, c in enumerate(recording.channels)
    ]  # fmt: skip
    about = {
        "channels": rows, "simulated": recording.simulated, "extras": recording.extras,
        "says": "SIMULATED" if recording.simulated else "",
        "sheet": None if recording.sheet is None else sheet_to_mapping(recording.sheet),
        "marks": [asdict(m) for m in recording.marks],
        "findings": [asdict(f) for f in recording.findings],
    }  # fmt: skip
    with whole(path) as name:
        with h5py.File(name, "w") as file:
            file.attrs["layout"] = LAYOUT
            file.attrs["about"] = json.dumps(about, allow_nan=False, ensure_ascii=False)
            for row, c in zip(rows, recording.channels, strict=True):
                chunk = (min(_CHUNK, c.values.size),) if c.values.size else None
                file.create_dataset(row["dataset"], data=c.values, chunks=chunk,
                                    fletcher32=chunk is not None)  # fmt: skip
        seal = _SEAL + hashlib.sha256(name.read_bytes()).digest()
        with name.open("ab") as end:
            end.write(seal)


FORMAT = Format(key="hdf5", endings=(".h5", ".hdf5"), sniff=_sniff, read=_read, write=_write)
