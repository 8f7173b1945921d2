"""EDF+C and BDF+C through edfio; discontinuous files are refused."""

import hashlib
import math
import warnings
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.errors import FormatLimit, UnreadableRecording
from arteriole.formats.files import MAX_SAMPLES, Format, Request, whole
from arteriole.formats.headings import understand
from arteriole.recording import Channel, Recording

EDF_NUMBER = 8  # characters of a number in the header


def _sniff(head: bytes) -> bool:
    return head.startswith((b"0       ", b"\xffBIOSEMI"))


def _read(path: Path, content: bytes, request: Request) -> Recording:
    import edfio

    if content[192:197] in {b"EDF+D", b"BDF+D"}:
        raise UnreadableRecording(
            f"{path} is discontinuous (EDF+D); a continuous file is needed. Export it as EDF+C."
        )
    try:
        claimed, signals = int(content[236:244]), int(content[252:256])
        header = int(content[184:192])
        if not (0 < signals <= 512 and 0 < claimed <= MAX_SAMPLES) or header > len(content):
            raise UnreadableRecording(  # noqa: TRY301 - one place per fault
                f"{path} claims {signals} signals and {claimed} records, more than it holds. "
                "Check that the file is whole."
            )
        bdf = content[:1] == b"\xff"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            file = (edfio.read_bdf if bdf else edfio.read_edf)(content)
        kept = [s for s in file.signals if s.data.size]
        heads, said = understand([(s.label.strip(), s.physical_dimension.strip() or None)
                                  for s in kept], request.column_map)  # fmt: skip
        channels = tuple(_channel(kept[h.index], h) for h in heads)
        text = file.local_recording_identification
    except UnreadableRecording:
        raise
    except Exception as fault:  # noqa: BLE001 - the library fails in many ways on broken files
        raise UnreadableRecording(
            f"{path} is a damaged EDF or BDF file ({type(fault).__name__}); a whole one is needed. "
            "Export it again."
        ) from None
    return Recording(name=path.name, sha256=hashlib.sha256(content).hexdigest(), format="edf",
                     channels=channels, findings=said, simulated="SIMULATED" in text)  # fmt: skip


def _channel(signal: Any, head: Any) -> Channel:
    span = signal.digital_max - signal.digital_min
    step = abs((signal.physical_max - signal.physical_min) / span * head.factor)
    return Channel(name=head.name, unit=head.unit, rate_hz=float(signal.sampling_frequency),
                   values=np.asarray(signal.data, dtype=np.float64) * head.factor + head.offset,
                   quantum=step)  # fmt: skip


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    """Write EDF+ (16 bit) or, by the ending, BDF+ (24 bit)."""
    bdf = path.suffix.lower() == ".bdf"
    if not lossy:
        _check(recording)
    seconds = min((c.duration_s for c in recording.channels), default=0.0)
    try:
        content = _content(recording, seconds, bdf=bdf, lossy=lossy)
    except ValueError as fault:
        if not lossy or seconds < 1.0:
            raise FormatLimit(f"EDF+ cannot hold this recording ({fault}). Write HDF5.") from None
        # Blocks of a second hold nearly everything: what lasts less at the end is left out.
        try:
            content = _content(recording, math.floor(seconds), bdf=bdf, lossy=lossy)
        except ValueError as again:
            raise FormatLimit(f"EDF+ cannot hold this recording ({again}). Write HDF5.") from None
    with whole(path) as name:
        name.write_bytes(content)


def _content(recording: Recording, seconds: float, *, bdf: bool, lossy: bool) -> bytes:
    """Return the file's bytes; fails with ValueError where blocks do not fit the lengths."""
    import edfio

    steps = 2**24 - 1 if bdf else 2**16 - 1
    signals = []
    for c in recording.channels:
        values = np.array(c.values)
        if np.isnan(values).all():
            values[:] = 0.0
        lost = np.isnan(values)
        if lost.any():
            values[lost] = np.interp(np.flatnonzero(lost), np.flatnonzero(~lost), values[~lost])
        values = values[: max(1, round(seconds * c.rate_hz))]
        low, high = float(values.min()), float(values.max())
        # a range that 8 characters of the header hold, and wider than the signal
        low, high = math.floor(low) - 1.0, math.ceil(high) + 1.0
        if not lossy and c.quantum > 0 and (high - low) / steps > c.quantum:
            raise FormatLimit(
                f"{c.name} spans {high - low:g} {c.unit} in steps of {c.quantum:g}; "
                f"{'BDF' if bdf else 'EDF'} holds {steps} steps. "
                "Write HDF5, or allow the loss with --lossy."
            )
        signals.append((edfio.BdfSignal if bdf else edfio.EdfSignal)(
            values, c.rate_hz, label=c.name[:16], physical_range=(low, high),
            physical_dimension=c.unit.replace("°C", "degC").encode("ascii", "ignore").decode()[:8],
        ))  # fmt: skip
    said = edfio.Recording(additional=("SIMULATED",) if recording.simulated else ())
    sizes = [s.data.size for s in signals]
    lasts = record_duration_s(sizes, [c.rate_hz for c in recording.channels])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        made: bytes = (edfio.Bdf if bdf else edfio.Edf)(
            signals, recording=said, data_record_duration=lasts
        ).to_bytes()
    return made


def record_duration_s(sizes: list[int], rates_hz: list[float]) -> float | None:
    """Return how long one block of the file lasts, so that whole blocks hold every sample.

    The divisor of all sample counts nearest to one block a second whose duration the header's
    eight characters hold exactly; None leaves it to the library.
    """
    whole_s = Fraction(sizes[0]) / Fraction(rates_hz[0]).limit_denominator(10**6)
    shared = math.gcd(*sizes)
    counts = {d for k in range(1, math.isqrt(shared) + 1) if shared % k == 0
              for d in (k, shared // k)}  # fmt: skip
    for count in sorted(counts, key=lambda d: abs(math.log(float(whole_s / d)))):
        lasts = float(whole_s / count)
        if len(f"{lasts:.10g}") <= EDF_NUMBER and Fraction(f"{lasts:.10g}") == whole_s / count:
            return lasts
    return None


def _check(recording: Recording) -> None:
    gaps = [c.name for c in recording.channels if np.isnan(c.values).any() or c.start_s]
    uneven = len({round(c.duration_s, 6) for c in recording.channels}) > 1
    if not recording.channels or gaps or uneven or recording.sheet is not None or recording.marks:
        raise FormatLimit(
            f"EDF holds no gaps ({', '.join(gaps) or 'none'}), uneven lengths, sheet or marks. "
            "Write HDF5, or allow the loss with --lossy."
        )


FORMAT = Format(key="edf", endings=(".edf", ".bdf"), sniff=_sniff, read=_read, write=_write)
