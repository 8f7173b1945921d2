"""DICOM waveforms in; Hemodynamic Waveform out, over 400 Hz only as a derived copy."""

import hashlib
import io
import math
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.errors import UnreadableRecording
from arteriole.formats.dicom_codes import SOURCES, VESSELS
from arteriole.formats.dicom_out import waveform
from arteriole.formats.files import MAX_SAMPLES, Format, Request, whole
from arteriole.formats.headings import is_channel, understand
from arteriole.recording import Channel, Recording

_UNITS = {"mm[Hg]": "mmHg", "Cel": "degC"}
_VESSELS = frozenset(code for code, _, _ in VESSELS.values())


def _sniff(head: bytes) -> bool:
    return head[128:132] == b"DICM"


def _read(path: Path, content: bytes, request: Request) -> Recording:
    import pydicom

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            file = pydicom.dcmread(io.BytesIO(content))
            cells: list[tuple[str, str | None]] = []
            signals: list[tuple[Any, float, float, float]] = []
            for k, group in enumerate(file.WaveformSequence):
                _group(file, k, group, cells, signals)
        heads, said = understand(cells, request.column_map)
        channels = tuple(
            Channel(name=h.name, unit=h.unit, rate_hz=signals[h.index][1],
                    start_s=signals[h.index][2], quantum=abs(signals[h.index][3] * h.factor),
                    values=signals[h.index][0] * h.factor + h.offset)
            for h in heads
        )  # fmt: skip
        text = f"{file.get('SeriesDescription', '')} {file.get('PatientName', '')}"
    except UnreadableRecording:
        raise
    except Exception as fault:  # noqa: BLE001 - the library fails in many ways on broken files
        raise UnreadableRecording(
            f"{path} is no whole DICOM waveform ({type(fault).__name__}); a waveform object is "
            "needed. Export it again."
        ) from None
    return Recording(name=path.name, sha256=hashlib.sha256(content).hexdigest(), format="dicom",
                     channels=channels, findings=said, simulated="SIMULATED" in text)  # fmt: skip


def _group(file: Any, k: int, group: Any, cells: Any, signals: Any) -> None:
    count, width = int(group.NumberOfWaveformSamples), int(group.NumberOfWaveformChannels)
    bits = int(group.WaveformBitsAllocated)
    if count > MAX_SAMPLES or count * width * bits // 8 > len(group.WaveformData):
        raise ValueError("samples claimed are not there")
    raw = file.waveform_array(k)
    stored = np.frombuffer(group.WaveformData, f"<i{bits // 8}", count * width)
    pad = group.get("WaveformPaddingValue")
    if isinstance(pad, bytes):
        pad = int.from_bytes(pad[: bits // 8], "little", signed=True)
    values = np.array(raw, dtype=np.float64)
    if pad is not None:
        values[stored.reshape(count, width) == pad] = np.nan
    for c, what in enumerate(group.ChannelDefinitionSequence):
        source = what.ChannelSourceSequence[0]
        label = str(what.get("ChannelLabel", ""))
        if not is_channel(label):
            label = _by_code(what, label) or label or str(source.CodeMeaning)
        units = what.get("ChannelSensitivityUnitsSequence")
        unit = str(units[0].CodeValue) if units else None
        cells.append((label, _UNITS.get(unit or "", unit)))
        rate = float(group.SamplingFrequency)
        start = float(group.get("MultiplexGroupTimeOffset", 0) or 0) / 1000.0
        # Offset of a channel's first sample within its group: seconds, else samples.
        skew = what.get("ChannelTimeSkew")
        start += (
            float(skew or 0)
            if skew is not None
            else (float(what.get("ChannelSampleSkew", 0) or 0) / rate)
        )
        step = float(what.get("ChannelSensitivity", 1) or 1) * float(
            what.get("ChannelSensitivityCorrectionFactor", 1) or 1
        )
        if not math.isfinite(step + start):
            raise ValueError("scale is not finite")
        signals.append((values[:, c], rate, start, step))


def _by_code(what: Any, label: str) -> str:
    """Return the channel that a source's code names beyond doubt, else nothing.

    An arterial pressure is Pd only in a coronary vessel: it may be that of the wrist. A temperature
    with a label of its own stays what the label says.
    """
    code = str(what.ChannelSourceSequence[0].CodeValue)
    if code == SOURCES["pa"][0]:
        return "pa"
    modifiers = {str(m.CodeValue) for m in what.get("ChannelSourceModifiersSequence") or ()}
    if code == SOURCES["pd"][0] and modifiers & _VESSELS:
        return "pd"
    return "temp" if code == SOURCES["temp"][0] and not label else ""


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    file = waveform(recording, lossy=lossy)
    with whole(path) as name:
        file.save_as(name, enforce_file_format=True)


FORMAT = Format(key="dicom", endings=(".dcm",), sniff=_sniff, read=_read, write=_write)
