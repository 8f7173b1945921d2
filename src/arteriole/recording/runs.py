"""Several runs of one case on one time axis."""

import hashlib
from collections.abc import Sequence

import numpy as np

from arteriole.errors import UnreadableRecording
from arteriole.recording.channel import Channel
from arteriole.recording.finding import Finding
from arteriole.recording.recording import Recording

#: Lost time put between two runs, s: long enough that no beat or window spans it; our choice,
#: decision 0003.
BREAK_S = 10.0


def join_runs(runs: Sequence[Recording]) -> Recording:
    """Return the runs one after the other, lost samples between them.

    Laboratories often store one case as several short files. The gauges are shared until they are
    equalised again, so the runs belong on one axis; what lies between them is unknown and stays
    lost. Times in the result are from the first run's start; a finding says where each run begins.

    Raises
    ------
    UnreadableRecording
        No run, or a channel whose rate or unit differs between runs.
    """
    if not runs:
        raise UnreadableRecording("No recording was given; name at least one file.")
    if len(runs) == 1:
        return runs[0]
    starts: list[float] = []
    clock = 0.0
    for run in runs:
        starts.append(clock)
        clock += run.duration_s + BREAK_S
    names = list(dict.fromkeys(c.name for run in runs for c in run.channels))
    sheets = [run.sheet for run in runs if run.sheet is not None]
    return Recording(
        name=" + ".join(run.name for run in runs),
        sha256=hashlib.sha256("".join(run.sha256 for run in runs).encode()).hexdigest(),
        format=runs[0].format if len({r.format for r in runs}) == 1 else "several",
        channels=tuple(_joined(name, runs, starts, clock - BREAK_S) for name in names),
        findings=tuple(_moved(runs, starts)),
        sheet=sheets[0] if sheets else None,
        marks=(),
        simulated=any(run.simulated for run in runs),
    )


def _joined(name: str, runs: Sequence[Recording], starts: Sequence[float], end_s: float) -> Channel:
    parts = [(run.channel(name), start) for run, start in zip(runs, starts, strict=True)
             if name in run]  # fmt: skip
    first = parts[0][0]
    for part, _ in parts[1:]:
        if part.rate_hz != first.rate_hz or part.unit != first.unit:
            raise UnreadableRecording(
                f"Channel {name!r} has {first.rate_hz:g} Hz in {first.unit} in one run and "
                f"{part.rate_hz:g} Hz in {part.unit} in another; runs of one case need the same. "
                "Analyse them apart or convert one of them."
            )
    values = np.full(round(end_s * first.rate_hz), np.nan)
    for part, start in parts:
        at = round((start + part.start_s) * first.rate_hz)
        piece = part.values[: max(values.size - at, 0)]
        values[at : at + piece.size] = piece
    return Channel(
        name=name, unit=first.unit, rate_hz=first.rate_hz, values=values, quantum=first.quantum
    )


def _moved(runs: Sequence[Recording], starts: Sequence[float]) -> list[Finding]:
    rows: list[Finding] = []
    for k, (run, start) in enumerate(zip(runs, starts, strict=True), start=1):
        rows.append(
            Finding(
                code="run_joined",
                severity="note",
                channel=None,
                start_s=start,
                end_s=start + run.duration_s,
                message=f"Run {k} of {len(runs)}: {run.name}.",
                do="Check that all runs are of one vessel and one set of gauges.",
            )
        )
        rows += [
            Finding(
                code=f.code,
                severity=f.severity,
                channel=f.channel,
                start_s=None if f.start_s is None else f.start_s + start,
                end_s=None if f.end_s is None else f.end_s + start,
                message=f.message,
                do=f.do,
            )
            for f in run.findings
        ]
    return rows
