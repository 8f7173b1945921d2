"""DICOM waveforms in; Hemodynamic Waveform out, over 400 Hz only as a derived copy."""

import hashlib
import io
import math
import warnings
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.errors import FormatLimit, UnreadableRecording
from arteriole.formats.files import MAX_SAMPLES, Format, Request, whole
from arteriole.formats.grid import one_grid
from arteriole.formats.headings import understand
from arteriole.recording import Channel, Recording

#: channel -> (code, scheme) of its source, DICOM CID 3003.
SOURCES = {"pa": ("128444004", "SCT"), "pd": ("128446002", "SCT"), "temp": ("128437008", "SCT")}
#: Fastest Hemodynamic Waveform, Hz: DICOM PS3.3 A.34.6.4.
MAX_RATE_HZ = 400.0
_MEANINGS = {"pa": "Aortic pressure waveform", "pd": "Arterial pressure waveform",
             "temp": "Temperature waveform"}  # fmt: skip
_PAD = -32768
_UNITS = {"mm[Hg]": "mmHg", "Cel": "degC"}


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
    codes = {code: name for name, (code, _) in SOURCES.items()}
    for c, what in enumerate(group.ChannelDefinitionSequence):
        source = what.ChannelSourceSequence[0]
        label = str(what.get("ChannelLabel", "")) or codes.get(
            str(source.CodeValue), str(source.CodeMeaning)
        )
        units = what.get("ChannelSensitivityUnitsSequence")
        unit = str(units[0].CodeValue) if units else None
        cells.append((label, _UNITS.get(unit or "", unit)))
        start = float(group.get("MultiplexGroupTimeOffset", 0) or 0) / 1000.0
        step = float(what.get("ChannelSensitivity", 1) or 1)
        if not math.isfinite(step + start):
            raise ValueError("scale is not finite")
        signals.append((values[:, c], float(group.SamplingFrequency), start, step))


def _code(value: str, scheme: str, meaning: str) -> Any:
    from pydicom.dataset import Dataset

    row = Dataset()
    row.CodeValue, row.CodingSchemeDesignator, row.CodeMeaning = value, scheme, meaning
    return row


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    other = [c.name for c in recording.channels if c.name not in SOURCES]
    if not lossy and (other or recording.sheet is not None or recording.marks):
        raise FormatLimit(
            f"A Hemodynamic Waveform is written with pa, pd and temp only, without sheet and marks "
            f"(also there: {', '.join(other) or 'none'}). Write HDF5, or allow the loss with "
            "--lossy."
        )
    kept = replace(recording, channels=tuple(c for c in recording.channels if c.name in SOURCES))
    rate, values = one_grid(kept, lossy)
    derived = rate > MAX_RATE_HZ
    if derived and not lossy:
        raise FormatLimit(
            f"The recording has {rate:g} Hz; a Hemodynamic Waveform holds {MAX_RATE_HZ:g} Hz. "
            "Write HDF5, or allow a resampled, derived copy with --lossy."
        )
    if derived:
        rate, values = _slower(rate, values)
    steps = [0.0005 if c.name == "temp" else 0.01 for c in kept.channels]
    bases = [37.0 if c.name == "temp" and np.nanmedian(c.values) > 20.0 else 0.0
             for c in kept.channels]  # fmt: skip
    raw = np.rint((values - np.array(bases)) / np.array(steps))
    for c, step in zip(kept.channels, steps, strict=True):
        if not lossy and 0 < c.quantum < step:
            raise FormatLimit(f"{c.name} has steps of {c.quantum:g}, {step:g} are held; --lossy.")
    if np.nanmax(np.abs(raw), initial=0.0) > -_PAD - 1:
        raise FormatLimit("A channel exceeds 16 bits. Write HDF5.")
    content = np.where(np.isnan(raw), _PAD, raw).astype("<i2").tobytes()
    file = _object(kept, rate, values.shape, steps, bases, content, derived)
    with whole(path) as name:
        file.save_as(name, enforce_file_format=True)


def _slower(rate: float, values: Any) -> tuple[float, Any]:
    """Return rate and values at no more than 400 Hz, low-passed first; lost samples stay lost."""
    from scipy.signal import resample_poly

    down = math.ceil(rate / MAX_RATE_HZ)
    size = math.ceil(values.shape[0] / down)
    out = np.full((size, values.shape[1]), np.nan)
    for k in range(values.shape[1]):
        lost = np.isnan(values[:, k])
        if lost.all():
            continue
        there = np.flatnonzero(~lost)
        filled = np.interp(np.arange(lost.size), there, values[there, k])
        out[:, k] = resample_poly(filled, 1, down, padtype="line")[:size]
        out[lost[::down], k] = np.nan
    return rate / down, out


def _object(
    kept: Recording, rate: float, shape: Any, steps: Any, bases: Any, content: bytes, derived: bool
) -> Any:
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian, HemodynamicWaveformStorage, generate_uid

    group = Dataset()
    group.MultiplexGroupTimeOffset, group.MultiplexGroupLabel = "0", "PHYS"
    group.WaveformOriginality = "DERIVED" if derived else "ORIGINAL"
    group.NumberOfWaveformSamples, group.NumberOfWaveformChannels = shape
    group.SamplingFrequency = f"{rate:.10g}"
    rows = []
    for c, step, base in zip(kept.channels, steps, bases, strict=True):
        row = Dataset()
        row.ChannelLabel = c.name
        row.ChannelSourceSequence = [_code(*SOURCES[c.name], _MEANINGS[c.name])]
        row.ChannelSensitivity, row.ChannelBaseline = f"{step:.10g}", f"{base:.10g}"
        row.ChannelSensitivityUnitsSequence = [
            _code("Cel", "UCUM", "degrees C")
            if c.name == "temp"
            else _code("mm[Hg]", "UCUM", "mmHg")
        ]
        row.ChannelSensitivityCorrectionFactor, row.ChannelSampleSkew = "1", "0"
        row.WaveformBitsStored = 16
        rows.append(row)
    group.ChannelDefinitionSequence = rows
    group.WaveformBitsAllocated, group.WaveformSampleInterpretation = 16, "SS"
    group.add_new(0x5400100A, "OW", np.int16(_PAD).tobytes())
    group.add_new(0x54001010, "OW", content)
    file, meta = Dataset(), FileMetaDataset()
    file.SOPClassUID = meta.MediaStorageSOPClassUID = HemodynamicWaveformStorage
    file.SOPInstanceUID = meta.MediaStorageSOPInstanceUID = generate_uid()
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    file.file_meta, file.SpecificCharacterSet, file.Modality = meta, "ISO_IR 192", "HD"
    said = ["SIMULATED"] if kept.simulated else []
    said += [f"resampled to {rate:.6g} Hz"] if derived else []
    file.SeriesDescription = ", ".join(said)
    file.PatientName, file.PatientID = "SIMULATED" if kept.simulated else "", ""
    file.PatientBirthDate, file.PatientSex, file.AccessionNumber = "", "", ""
    file.StudyInstanceUID, file.SeriesInstanceUID = generate_uid(), generate_uid()
    file.StudyDate, file.StudyTime, file.StudyID, file.ReferringPhysicianName = "", "", "", ""
    file.SeriesNumber, file.InstanceNumber, file.Manufacturer = 1, 1, "arteriole"
    file.SynchronizationFrameOfReferenceUID = generate_uid()
    file.SynchronizationTrigger, file.AcquisitionTimeSynchronized = "NO TRIGGER", "N"
    file.AcquisitionContextSequence = []
    file.WaveformSequence = [group]
    return file


FORMAT = Format(key="dicom", endings=(".dcm",), sniff=_sniff, read=_read, write=_write)
