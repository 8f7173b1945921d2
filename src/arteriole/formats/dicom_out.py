"""A recording as a Hemodynamic Waveform: pressures and temperatures, the ECG in groups of its own.

Channels of one rate share a multiplex group. Samples are 16-bit steps: the stored step of a channel
where its range allows, else 0.01 mmHg, 0.0005 °C, 0.001 mV, or up to ten times that.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from arteriole.errors import FormatLimit
from arteriole.formats import dicom_codes as codes
from arteriole.formats.grid import one_grid
from arteriole.recording import Channel, Recording

#: Fastest Hemodynamic Waveform, Hz, most multiplex groups and channels: DICOM PS3.3 A.34.6.4.
MAX_RATE_HZ, MOST_GROUPS, MOST_CHANNELS = 400.0, 4, 8
PAD = -32768  # a lost sample
LARGEST = 32767
STEPS = {"mmHg": 0.01, "°C": 0.0005, "mV": 0.001, "mL/min": 0.1}
COARSER = (1, 2, 5, 10)  # a channel that reaches further is stored in coarser steps
BLOOD_C = 37.0  # an absolute temperature needs a baseline: 36.8 °C in steps is over 16 bits
LONGEST_LABEL, LONGEST_CHANNEL = 64, 16


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Channels side by side: all of one rate, length and kind, from 0 on."""

    channels: tuple[Channel, ...]
    derived: bool = False

    @property
    def is_ecg(self) -> bool:
        return _source(self.channels[0])[1] == "MDC"


def waveform(recording: Recording, *, lossy: bool, at: datetime | None = None) -> Any:
    """Return the object as a pydicom dataset; ``at`` is when it is made, for what has no date.

    Raises
    ------
    FormatLimit
        What the format cannot hold, without ``lossy``; a channel beyond 16 bits.
    """
    kept = tuple(c for c in recording.channels if c.unit in codes.UNITS and c.values.size)
    if not kept:
        raise FormatLimit("No channel has a unit a waveform object can name. Write HDF5.")
    if not lossy:
        _refuse_loss(recording, kept)
    groups = _groups(replace(recording, channels=kept), lossy=lossy)
    return _object(recording, groups, at or datetime.now(UTC))


def _refuse_loss(recording: Recording, kept: Sequence[Channel]) -> None:
    other = [c.name for c in recording.channels if c not in kept]
    if other or recording.sheet is not None or recording.marks:
        raise FormatLimit(
            "A Hemodynamic Waveform holds channels in mmHg, °C, mV and mL/min, no sheet and no "
            f"marks (also there: {', '.join(other) or 'sheet or marks'}). Write HDF5, or allow "
            "the loss with --lossy."
        )
    fast = max(c.rate_hz for c in kept)
    if fast > MAX_RATE_HZ:
        raise FormatLimit(
            f"The recording has {fast:g} Hz; a Hemodynamic Waveform holds {MAX_RATE_HZ:g} Hz. "
            "Write HDF5, or allow a resampled, derived copy with --lossy."
        )
    for c in kept:
        first = c.start_s * c.rate_hz
        if first < 0 or abs(first - round(first)) > 1e-6:
            raise FormatLimit(
                f"{c.name} starts at {c.start_s:g} s, between two samples; a Hemodynamic Waveform "
                "starts all channels at 0. Write HDF5, or allow the loss with --lossy."
            )
        step = scale_of(c)[0]
        if 0 < c.quantum < step * (1 - 1e-9):
            raise FormatLimit(
                f"{c.name} has steps of {c.quantum:g} {c.unit}; {step:g} are held. Write HDF5, or "
                "allow the loss with --lossy."
            )


def _groups(recording: Recording, *, lossy: bool) -> list[_Group]:
    slow = [(_from_zero(_slower(c)), c.rate_hz > MAX_RATE_HZ) for c in recording.channels]
    made = _by_grid(slow)
    if len(made) > MOST_GROUPS or any(len(g.channels) > MOST_CHANNELS for g in made):
        if not lossy:
            raise FormatLimit(
                f"The recording needs {len(made)} multiplex groups; {MOST_GROUPS} of "
                f"{MOST_CHANNELS} channels are held. Write HDF5, or allow the loss with --lossy."
            )
        rate, values = one_grid(replace(recording, channels=tuple(c for c, _ in slow)), lossy)
        flat = [(replace(c, rate_hz=rate, start_s=0.0, values=values[:, k]), True)
                for k, (c, _) in enumerate(slow)]  # fmt: skip
        made = _by_grid(flat)
        made = [replace(g, channels=g.channels[:MOST_CHANNELS]) for g in made[:MOST_GROUPS]]
    return made


def _from_zero(channel: Channel) -> Channel:
    """Return the channel with lost samples before its start: a group has no start of its own."""
    before = max(0, round(channel.start_s * channel.rate_hz))
    values = np.concatenate([np.full(before, np.nan), channel.values])
    return replace(channel, start_s=0.0, values=values)


def _by_grid(channels: Sequence[tuple[Channel, bool]]) -> list[_Group]:
    grids: dict[tuple[float, bool], list[tuple[Channel, bool]]] = {}
    for c, derived in channels:
        grids.setdefault((c.rate_hz, _source(c)[1] == "MDC"), []).append((c, derived))
    made = []
    for rows in grids.values():
        size = max(c.values.size for c, _ in rows)
        filled = [np.concatenate([c.values, np.full(size - c.values.size, np.nan)])
                  for c, _ in rows]  # fmt: skip
        made.append(_Group(
            channels=tuple(replace(c, values=v) for (c, _), v in zip(rows, filled, strict=True)),
            derived=any(d for _, d in rows),
        ))  # fmt: skip
    return made


def _slower(channel: Channel) -> Channel:
    """Return the channel at no more than 400 Hz, low-passed first; lost samples stay lost."""
    from scipy.signal import resample_poly

    if channel.rate_hz <= MAX_RATE_HZ:
        return channel
    down = math.ceil(channel.rate_hz / MAX_RATE_HZ)
    lost = np.isnan(channel.values)
    size = math.ceil(lost.size / down)
    out = np.full(size, np.nan)
    if not lost.all():
        there = np.flatnonzero(~lost)
        filled = np.interp(np.arange(lost.size), there, channel.values[there])
        out = resample_poly(filled, 1, down, padtype="line")[:size]
        out[lost[::down]] = np.nan
    return replace(channel, rate_hz=channel.rate_hz / down, values=out, quantum=0.0)


def scale_of(channel: Channel) -> tuple[float, float]:
    """Return (step, baseline) as they will be written; the step is the stored one if it fits.

    Raises
    ------
    FormatLimit
        The channel's range needs more than 16 bits.
    """
    finite = channel.values[np.isfinite(channel.values)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 0.0)
    usual = STEPS[channel.unit]
    base = BLOOD_C if channel.unit == "°C" and high > BLOOD_C / 2 else 0.0
    centre = round((low + high) / 2, 1)
    wide = ((usual * k, m) for k in COARSER for m in (base, centre))
    for step, middle in ((channel.quantum, 0.0), (channel.quantum, base), *wide):
        written, zero = float(f"{step:.10g}"), float(f"{middle:.10g}")
        if written > 0 and max(high - zero, zero - low) / written <= LARGEST:
            return written, zero
    raise FormatLimit(
        f"{channel.name} reaches from {low:g} to {high:g} {channel.unit}; in steps of "
        f"{usual * COARSER[-1]:g} that is more than 16 bits. Write HDF5."
    )


def _source(channel: Channel) -> codes.Triple:
    return codes.SOURCES.get(channel.name) or codes.BY_UNIT[channel.unit]


def _code(triple: codes.Triple) -> Any:
    from pydicom.dataset import Dataset

    row = Dataset()
    row.CodeValue, row.CodingSchemeDesignator, row.CodeMeaning = triple
    return row


def _modifiers(channel: Channel, recording: Recording) -> list[codes.Triple]:
    sheet = recording.sheet
    if channel.name == "pd":
        vessel = codes.vessel_code(sheet.vessel, sheet.segment) if sheet else None
        return [*([vessel] if vessel else []), codes.TIP]
    if channel.name == "pa" and sheet and sheet.pa_transducer == "fluid":
        return [codes.FLUID]
    return [codes.THERMISTOR] if channel.name in {"temp", "shaft_temp"} else []


def _channel(channel: Channel, recording: Recording) -> Any:
    from pydicom.dataset import Dataset

    row, (step, base) = Dataset(), scale_of(channel)
    label = "".join(c for c in channel.name if c.isprintable() and c != "\\")
    row.ChannelLabel = label.encode()[:LONGEST_CHANNEL].decode(errors="ignore")
    row.ChannelSourceSequence = [_code(_source(channel))]
    modifiers = _modifiers(channel, recording)
    if modifiers:
        row.ChannelSourceModifiersSequence = [_code(m) for m in modifiers]
    row.ChannelSensitivity, row.ChannelBaseline = f"{step:.10g}", f"{base:.10g}"
    row.ChannelSensitivityUnitsSequence = [_code(codes.UNITS[channel.unit])]
    row.ChannelSensitivityCorrectionFactor, row.ChannelSampleSkew = "1", "0"
    row.WaveformBitsStored = 16
    return row


def _multiplexed(group: _Group, recording: Recording) -> Any:
    from pydicom.dataset import Dataset

    made, first = Dataset(), group.channels[0]
    made.MultiplexGroupLabel = "ECG" if group.is_ecg else "PHYS"
    made.WaveformOriginality = "DERIVED" if group.derived else "ORIGINAL"
    made.NumberOfWaveformChannels = len(group.channels)
    made.NumberOfWaveformSamples = first.values.size
    made.SamplingFrequency = f"{first.rate_hz:.10g}"
    made.ChannelDefinitionSequence = [_channel(c, recording) for c in group.channels]
    made.WaveformBitsAllocated, made.WaveformSampleInterpretation = 16, "SS"
    columns = []
    for c in group.channels:
        step, base = scale_of(c)
        raw = np.rint((c.values - base) / step)
        columns.append(np.where(np.isnan(raw), PAD, raw).astype("<i2"))
    made.add_new(0x5400100A, "OW", np.int16(PAD).tobytes())
    made.add_new(0x54001010, "OW", np.column_stack(columns).tobytes())
    return made


def _object(recording: Recording, groups: Sequence[_Group], at: datetime) -> Any:
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian, HemodynamicWaveformStorage, generate_uid

    sha, file, meta = recording.sha256, Dataset(), FileMetaDataset()
    shape = repr([(c.name, c.rate_hz, c.values.size) for g in groups for c in g.channels])
    file.SOPClassUID = meta.MediaStorageSOPClassUID = HemodynamicWaveformStorage
    file.SOPInstanceUID = meta.MediaStorageSOPInstanceUID = generate_uid(
        entropy_srcs=[sha, "waveform", shape]
    )
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    file.file_meta, file.SpecificCharacterSet, file.Modality = meta, "ISO_IR 192", "HD"
    date = recording.sheet.date if recording.sheet else None
    day = (date or "").replace("-", "")
    known = len(day) == 8 and day.isascii() and day.isdigit()
    rates = ", ".join(f"{g.channels[0].rate_hz:.6g} Hz" for g in groups if g.derived)
    said = ["SIMULATED"] if recording.simulated else []
    said += [f"derived copy, resampled to {rates}"] if rates else []
    said += [] if known else ["acquisition date not recorded"]
    file.SeriesDescription = ", ".join(said)[:LONGEST_LABEL]
    file.PatientName, file.PatientID = "SIMULATED^" if recording.simulated else "", ""
    file.PatientBirthDate, file.PatientSex, file.AccessionNumber = "", "", ""
    file.StudyInstanceUID = generate_uid(entropy_srcs=[sha, "study"])
    file.SeriesInstanceUID = generate_uid(entropy_srcs=[sha, "series", "waveform"])
    file.StudyDate, file.StudyTime = day if known else "", ""
    file.StudyID, file.ReferringPhysicianName = "1", ""
    file.ContentDate, file.ContentTime = at.strftime("%Y%m%d"), at.strftime("%H%M%S")
    # May not be empty; without a date on the sheet it is that of the copy, and the series says so.
    file.AcquisitionDateTime = day if known else at.strftime("%Y%m%d%H%M%S")
    file.SeriesNumber, file.InstanceNumber, file.BodyPartExamined = 1, 1, "HEART"
    file.Manufacturer = file.ManufacturerModelName = "arteriole"
    file.DeviceSerialNumber, file.SoftwareVersions = "none", "arteriole"
    file.SynchronizationFrameOfReferenceUID = generate_uid(entropy_srcs=[sha, "clock"])
    file.SynchronizationTrigger, file.AcquisitionTimeSynchronized = "NO TRIGGER", "N"
    file.AcquisitionContextSequence = []
    file.WaveformSequence = [_multiplexed(g, recording) for g in groups]
    return file
