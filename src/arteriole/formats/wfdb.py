"""WFDB: a text header with signal files beside it; each channel keeps its own rate."""

import hashlib
import re
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.errors import FormatLimit, UnreadableRecording
from arteriole.formats.files import MAX_SAMPLES, Format, Request, load, whole
from arteriole.formats.grid import one_grid
from arteriole.formats.headings import understand
from arteriole.recording import Channel, Finding, Recording

_PLAIN = re.compile(r"[A-Za-z0-9_\-]+(\.[A-Za-z0-9_\-]+)?")
_MAX_SIGNALS = 256


def _sniff(head: bytes) -> bool:
    lines = [r for r in head.decode("latin-1").splitlines() if r.strip() and r[0] != "#"]
    form = r"^[\w\-]+(/\d+)? +\d+ +[\d.]+(/[\d.]+)?[^,;]*$"
    return bool(lines) and bool(re.match(form, lines[0]))


def _files(path: Path, content: bytes, depth: int = 0) -> list[Path]:
    """Return the files a header names, refusing names outside its folder and false lengths."""
    lines = [r.split() for r in content.decode("latin-1").splitlines()
             if r.strip() and r[0] != "#"]  # fmt: skip
    if len(lines) > 100_000 or depth > 1:
        raise ValueError("too many segments")
    count = int(lines[0][1])
    length = int(lines[0][3]) if len(lines[0]) > 3 else 0
    if not 0 < count <= _MAX_SIGNALS or length > MAX_SAMPLES:
        raise ValueError("absurd number of signals or samples")
    segments = "/" in lines[0][0]
    names = dict.fromkeys(r[0] for r in lines[1:] if r[0] != "~")
    out: list[Path] = []
    for name in names:
        if not _PLAIN.fullmatch(name):
            raise ValueError(f"file name {name!r}")
        if segments:
            inner = path.with_name(f"{name}.hea")
            out += [inner, *_files(inner, load(inner), depth + 1)]
        else:
            out.append(path.with_name(name))
    if not segments:
        for row in lines[1 : count + 1]:
            frame = re.match(r"\d+x(\d+)", row[1])
            if length * int(frame[1] if frame else 1) > MAX_SAMPLES:
                raise ValueError("absurd number of samples")
    return out


def _library() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of its own future on import
        import wfdb
    return wfdb


def _read(path: Path, content: bytes, request: Request) -> Recording:
    wfdb = _library()
    digest = hashlib.sha256(content)
    try:
        for name in dict.fromkeys(_files(path, content)):
            if name.suffix and name.name != "~":
                digest.update(load(name))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            record = wfdb.rdrecord(str(path.with_suffix("").absolute()), smooth_frames=False)
        heads, said = understand(list(zip(record.sig_name, record.units, strict=True)),
                                 request.column_map)  # fmt: skip
        channels = [_channel(record, h) for h in heads]
        comments = " ".join(record.comments or [])
    except UnreadableRecording:
        raise
    except Exception as fault:  # noqa: BLE001 - the library fails in many ways on broken files
        raise UnreadableRecording(
            f"{path} is a damaged WFDB record ({type(fault).__name__}: {str(fault)[:80]}); header "
            "and signal files that belong together are needed. Check the folder."
        ) from None
    late = [Finding(code="start_missing", severity="note", channel=c.name, start_s=0.0,
                    end_s=float(np.argmin(np.isnan(c.values))) / c.rate_hz,
                    message=f"{c.name} starts late; the samples before count as lost.",
                    do="Nothing, if the signal was switched on later.")
            for c in channels if c.values.size and np.isnan(c.values[0])]  # fmt: skip
    return Recording(name=path.name, sha256=digest.hexdigest(), format="wfdb",
                     channels=tuple(channels), findings=(*said, *late),
                     simulated="SIMULATED" in comments)  # fmt: skip


def _channel(record: Any, head: Any) -> Channel:
    k = head.index
    values = record.e_p_signal[k] if record.e_p_signal is not None else record.p_signal[:, k]
    per_frame = (record.samps_per_frame or [1] * (k + 1))[k]
    gain = (record.adc_gain or [0.0] * (k + 1))[k]
    return Channel(name=head.name, unit=head.unit, rate_hz=float(record.fs) * per_frame,
                   values=np.asarray(values, dtype=np.float64) * head.factor + head.offset,
                   quantum=abs(head.factor / gain) if gain else 0.0)  # fmt: skip


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    import tempfile

    wfdb = _library()
    if not re.fullmatch(r"[A-Za-z0-9_\-]+", path.stem):
        raise FormatLimit(
            f"WFDB record name {path.stem!r} has other signs than letters, digits, _ and -. "
            "Choose another name."
        )
    if not lossy and (recording.sheet is not None or recording.marks):
        raise FormatLimit(
            "A WFDB record holds no sheet and no marks. Write HDF5, or allow the loss with --lossy."
        )
    rate, values = one_grid(recording, lossy)
    gains = []
    for k, c in enumerate(recording.channels):
        peak = float(np.nanmax(np.abs(values[:, k]), initial=0.0))
        gain = 1.0 / c.quantum if c.quantum > 0 else 1e9 / max(peak, 1.0)
        if peak * gain > 2**31 - 2:
            raise FormatLimit(f"{c.name} does not fit 32 bits in its steps. Write HDF5.")
        gains.append(gain)
    with tempfile.TemporaryDirectory() as folder:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                wfdb.wrsamp(
                    path.stem, fs=rate,
                    units=[c.unit.replace("°C", "degC") for c in recording.channels],
                    sig_name=[c.name for c in recording.channels], p_signal=values,
                    fmt=["32"] * len(gains), adc_gain=gains, baseline=[0] * len(gains),
                    comments=["SIMULATED"] if recording.simulated else [], write_dir=folder,
                )  # fmt: skip
        except Exception as fault:  # noqa: BLE001 - the library fails in many ways
            raise FormatLimit(f"WFDB cannot hold this ({str(fault)[:100]}). Write HDF5.") from None
        for ending in (".dat", ".hea"):
            with whole(path.with_suffix(ending)) as name:
                name.write_bytes((Path(folder) / (path.stem + ending)).read_bytes())


FORMAT = Format(key="wfdb", endings=(".hea",), sniff=_sniff, read=_read, write=_write)
