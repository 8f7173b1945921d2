"""Text tables: a header row, a time column or a sampling rate, empty fields for lost samples."""

import hashlib
import math
import re
import warnings
from pathlib import Path

import numpy as np
import numpy.typing as npt

from arteriole.errors import ChannelUnclear, FormatLimit, UnreadableRecording
from arteriole.formats.files import MAX_SAMPLES, Format, Request, whole
from arteriole.formats.headings import key_of, split, understand
from arteriole.recording import Channel, Finding, Recording

Table = npt.NDArray[np.float64]
_TIME = {"time", "t", "timestamp", "times", "seconds"}
_SECONDS = {"s": 1.0, "sec": 1.0, "ms": 1e-3, "min": 60.0}
_SIMULATED = re.compile(r"^#\s*simulated\s*[:=]\s*true", re.IGNORECASE | re.MULTILINE)
_LOST = {"", "nan", "na", "n/a", "null", "none", "-"}
#: Deviation of a stamp from the grid, in steps, above which it is reported; decision 0011.
_JITTER_STEPS = 0.25


def _sniff(head: bytes) -> bool:
    if b"\0" in head:
        return False
    lines = [r for r in head.decode("utf-8", "replace").splitlines() if r and r[0] != "#"]
    return bool(lines) and any(s in lines[0] for s in ",;\t")


def _read(path: Path, content: bytes, request: Request) -> Recording:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    if "\0" in text:
        raise UnreadableRecording(
            f"{path} holds binary values; a text table is needed. Check the file's kind."
        )
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    simulated = bool(_SIMULATED.search(text))
    if "#" in text:
        text = re.sub(r"^#.*\n?", "", text, flags=re.MULTILINE)
    head, _, body = text.lstrip("\n").partition("\n")
    mark = max(";\t,", key=head.count)
    if not head or (head.count(mark) == 0 and request.rate_hz is None):
        raise UnreadableRecording(
            f"{path} has no header row with columns; a header such as time_s,pa_mmHg is needed. "
            "Export it as a table."
        )
    cells = [split(c) for c in head.split(mark)]
    table, findings = _table(path, body, mark, len(cells))
    rate, index, time_findings, time_column = _time(path, cells, table, request)
    findings += time_findings
    kept = [c for c in range(len(cells)) if c != time_column]
    headings, said = understand([cells[c] for c in kept], request.column_map)
    size = int(index[-1]) + 1
    steps = _decimals(body, mark, len(cells))
    channels = []
    for row in headings:
        column = kept[row.index]
        values = np.full(size, np.nan)
        values[index] = table[:, column] * row.factor + row.offset
        channels.append(Channel(
            name=row.name, unit=row.unit, rate_hz=rate, values=values,
            quantum=10.0 ** -steps[column] * abs(row.factor),
        ))  # fmt: skip
    return Recording(
        name=path.name, sha256=hashlib.sha256(content).hexdigest(), format="csv",
        channels=tuple(channels), findings=(*findings, *said), simulated=simulated,
    )  # fmt: skip


def _note(code: str, message: str, do: str) -> Finding:
    return Finding(code=code, severity="caution", channel=None, start_s=None, end_s=None,
                   message=message, do=do)  # fmt: skip


def _table(path: Path, body: str, mark: str, width: int) -> tuple[Table, list[Finding]]:
    """Return the numbers, shape (rows, width); fast when every field is a number or empty."""
    body = re.sub(r"\n\s*\n", "\n", body).strip(" \n") if "\n\n" in body else body.strip(" \n")
    if not body:
        raise UnreadableRecording(f"{path} has no rows; samples are needed. Export it again.")
    if mark != "," and "," in body:
        if "." in body:
            raise ChannelUnclear(
                f"{path} has both decimal commas and points; one is needed. Export it again."
            )
        body = body.replace(",", ".")
    rows = body.count("\n") + 1
    plain = body.replace(mark, ",").replace("\n", ",\n")
    for _ in range(2):
        plain = plain.replace(",,", ",nan,")
    plain = plain.replace("\n,", "\nnan,")
    if plain.endswith(","):
        plain += "nan"
    counts = np.frombuffer(body.encode(), np.uint8)
    ends = np.flatnonzero(counts == 10)
    marks = np.flatnonzero(counts == ord(mark))
    per_row = np.diff(np.searchsorted(marks, np.concatenate([[0], ends, [counts.size]])))
    if (per_row == width - 1).all():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            try:
                flat = np.fromstring(plain, sep=",")
            except ValueError:
                flat = np.empty(0)
        if flat.size == rows * width:
            flat[np.isinf(flat)] = np.nan
            return flat.reshape(rows, width), []
    return _slow(path, body, mark, width)


def _slow(path: Path, body: str, mark: str, width: int) -> tuple[Table, list[Finding]]:
    out: list[list[float]] = []
    bad = short = 0
    for line in body.split("\n"):
        fields = line.split(mark)
        if len(fields) != width:
            short += 1
            if len(fields) > width:
                continue
            fields += [""] * (width - len(fields))
        row = []
        for cell in fields:
            word = cell.strip().strip('"').lower()
            try:
                row.append(float(word) if word not in _LOST else np.nan)
            except ValueError:
                bad += 1
                row.append(np.nan)
        out.append(row)
    table = np.array(out, dtype=np.float64).reshape(-1, width)
    table[np.isinf(table)] = np.nan
    if not np.isfinite(table).any() or bad > 0.5 * table.size:
        raise UnreadableRecording(
            f"{path} holds {bad} fields that are no numbers; numbers are needed. Check the table."
        )
    findings = []
    if bad:
        findings.append(_note("text_in_table", f"{bad} fields are no numbers; they count as lost.",
                              "Check the export."))  # fmt: skip
    if short:
        findings.append(_note("rows_uneven", f"{short} rows have another number of fields.",
                              "Check that the file is whole."))  # fmt: skip
    return table, findings


def _time(
    path: Path, cells: list[tuple[str, str | None]], table: Table, request: Request
) -> tuple[float, npt.NDArray[np.int64], list[Finding], int | None]:
    """Return (rate Hz, grid index per row, findings, time column)."""
    columns = [
        c
        for c, (n, u) in enumerate(cells)
        if key_of(n) in _TIME and (u in _SECONDS or (u is None and key_of(n) != "t"))
    ]
    if len(columns) > 1:
        raise ChannelUnclear(f"{path} has {len(columns)} time columns; one is needed. Remove one.")
    rows = table.shape[0]
    if not columns:
        if request.rate_hz is None or not 0 < request.rate_hz < 1e6:
            raise UnreadableRecording(
                f"{path} has no time column and no usable sampling rate ({request.rate_hz}); "
                "a column such as time_s is needed. Add it or give rate_hz on the sheet."
            )
        return request.rate_hz, np.arange(rows), [], None
    column = columns[0]
    findings: list[Finding] = []
    unit = cells[column][1]
    if unit is None:
        findings.append(_note("unit_assumed", "The time column names no unit; s was taken.",
                              "Write the unit into the header."))  # fmt: skip
    stamps = table[:, column] * _SECONDS[unit or "s"]
    good = np.isfinite(stamps)
    if good.sum() < 2:
        raise UnreadableRecording(f"{path} has {good.sum()} time stamps; two or more are needed.")
    if not good.all():
        findings.append(_note("time_lost", f"{int((~good).sum())} rows without time.", "Check."))
        stamps = np.interp(np.arange(rows), np.flatnonzero(good), stamps[good])
    steps = np.diff(stamps)
    if (steps < 0).any():
        at = int(np.flatnonzero(steps < 0)[0])
        raise UnreadableRecording(
            f"{path}: time runs backwards from {stamps[at]:g} s to {stamps[at + 1]:g} s; rising "
            "stamps are needed. Sort or export the file again."
        )
    if not (steps > 0).any():
        raise UnreadableRecording(f"{path}: all stamps are equal; rising time is needed.")
    typical = float(np.median(steps[steps > 0]))
    rate = 1.0 / float(steps[(steps > 0) & (steps < 1.8 * typical)].mean())
    for nice in (round(rate), round(rate * 10) / 10):
        if nice > 0 and abs(nice - rate) < 2e-3 * rate:
            rate = float(nice)
            break
    place = (stamps - stamps[0]) * rate
    if not 1e-3 < rate < 1e6 or place[-1] > min(MAX_SAMPLES, 1000 * rows + 10_000_000):
        raise UnreadableRecording(
            f"{path}: {rate:g} Hz over {stamps[-1] - stamps[0]:g} s is no recording; check the "
            "unit of the time column."
        )
    index = np.rint(place).astype(np.int64)
    if np.abs(place - index).max() > _JITTER_STEPS:
        findings.append(_note("time_jitter", f"Time stamps stray up to "
            f"{np.abs(place - index).max() / rate * 1000:.3g} ms from a grid of {rate:g} Hz; "
            "samples were put on the grid.", "Export at a constant rate."))  # fmt: skip
    same = int((np.diff(index) == 0).sum())
    if same:
        findings.append(_note("time_duplicate", f"{same} rows share a place in time; the last "
                              "one counts.", "Check the export."))  # fmt: skip
    jumps = int((np.diff(index) > 1).sum())
    if jumps:
        findings.append(_note("time_gap", f"{jumps} gaps in time; their samples count as lost.",
                              "Check the export."))  # fmt: skip
    return rate, index, findings, column


def _decimals(body: str, mark: str, width: int) -> list[int]:
    most = [0] * width
    for line in body[:40_000].split("\n")[:400]:
        for c, cell in enumerate(line.split(mark)[:width]):
            tail = re.search(r"[.,](\d+)", cell)
            most[c] = max(most[c], len(tail[1]) if tail else 0)
    return most


def _write(recording: Recording, path: Path, lossy: bool) -> None:
    from arteriole.formats.grid import one_grid

    if not lossy and (recording.sheet is not None or recording.marks):
        raise FormatLimit(
            "A CSV file holds no sheet and no marks. Write HDF5, or allow the loss with --lossy."
        )
    rate, columns = one_grid(recording, lossy)
    digits = [6 if c.quantum <= 0 else max(0, math.ceil(-math.log10(c.quantum) - 1e-9))
              for c in recording.channels]  # fmt: skip
    size = columns.shape[0]
    head = ",".join(["time_s", *(_cell(c) for c in recording.channels)])
    rows = np.column_stack([np.arange(size) / rate, columns])
    form = ",".join(["%.6f", *(f"%.{d}f" for d in digits)]) + "\n"
    with whole(path) as name, name.open("w", encoding="utf-8", newline="\n") as out:
        if recording.simulated:
            out.write("# simulated: true\n# SIMULATED\n")
        out.write(head + "\n")
        for at in range(0, size, 50_000):
            part = rows[at : at + 50_000]
            out.write(((form * part.shape[0]) % tuple(part.ravel().tolist())).replace("nan", ""))


def _cell(channel: Channel) -> str:
    return f"{channel.name} [{channel.unit}]".replace(",", " ")


FORMAT = Format(key="csv", endings=(".csv", ".tsv", ".txt"), sniff=_sniff, read=_read, write=_write)
