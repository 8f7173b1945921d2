"""The desk: studies laid open. Measuring is done once per recording; an edit only decides again.

Recordings, their levels of detail and measurements are kept in memory, last used first; ledger,
sheet and results live in the store.
"""

import hashlib
import threading
from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

from arteriole import __version__
from arteriole.errors import ArterioleError
from arteriole.recording import (
    Edit,
    EditRecord,
    Mark,
    MarkRemoved,
    MarkSet,
    Recording,
    Sheet,
    resolve,
)
from arteriole.recording.edit import Effective, standing
from arteriole.recording.mark import mark_id
from arteriole.recording.runs import join_runs
from arteriole.store import Store, StudyRow
from arteriole.store.ledger import canonical
from arteriole.study.result import Result
from arteriole.web.bins import Pyramid, pyramid_of
from arteriole.web.conductor import Conductor

#: Recordings kept open at once, and bytes of samples they may hold: two hours of six channels at
#: 2 kHz are 0.7 GB; our choice, decision 0071.
MOST_OPEN = 6
MOST_BYTES = 1_500_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A recording ready to look at: samples, levels of detail, measurement."""

    recording: Recording
    pyramids: tuple[Pyramid, ...]
    measurement: Any

    @property
    def bytes(self) -> int:
        """Memory held by samples and levels of detail."""
        return sum(c.values.nbytes for c in self.recording.channels) * 3 // 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """A study as it stands now. ``marks`` are the standing marks by identity."""

    row: StudyRow
    laid: Laid
    edits: tuple[EditRecord, ...]
    effective: Effective
    marks: dict[str, Mark]
    result: Result
    document: dict[str, Any]


class Desk:
    """Opens studies of one store with one conductor."""

    def __init__(self, store: Store, conductor: Conductor) -> None:
        """Use this store and these functions."""
        self.store, self.conductor = store, conductor
        self._laid: OrderedDict[str, Laid] = OrderedDict()
        self._readings: OrderedDict[str, tuple[tuple[str, str], Reading]] = OrderedDict()
        self._lock = threading.RLock()
        self._workers = ThreadPoolExecutor(1, thread_name_prefix="measuring")
        self._running: dict[str, Future[Reading]] = {}
        self._busy: dict[str, threading.Lock] = {}

    def close(self) -> None:
        """Stop measuring and let go of the store."""
        self._workers.shutdown(wait=True, cancel_futures=True)
        self.store.close()

    # -- opening ---------------------------------------------------------------------------

    def is_open(self, row: StudyRow) -> bool:
        """Return whether the study can be shown without measuring first."""
        return self._key(row) in self._laid

    def begin(self, study_id: str) -> Future[Reading]:
        """Start opening the study in the background; one at a time, each once."""
        with self._lock:
            running = self._running.get(study_id)
            if running is None or (running.done() and not self.is_open(self.store.study(study_id))):
                running = self._workers.submit(self.open, study_id)
                self._running[study_id] = running
            return running

    def stage(self, row: StudyRow) -> tuple[str, str]:
        """Return (``ready``, ``waiting``, ``measuring`` or ``failed``) and a fault's message."""
        with self._lock:
            running = self._running.get(row.id)
        if running is not None and running.done():
            fault = running.exception()
            if isinstance(fault, ArterioleError):
                return "failed", str(fault)
            if fault is not None:
                return "failed", f"Measuring stopped: {type(fault).__name__}. Report the recording."
        if self.is_open(row):
            return "ready", ""
        if running is None:
            return "waiting", ""
        return ("measuring" if running.running() else "waiting"), ""

    def open(self, study_id: str) -> Reading:
        """Return the study as it stands: measured once, decided for the standing edits."""
        row = self.store.study(study_id)
        edits = self.store.edits(study_id)
        version = self._version(row, edits)
        with self._lock:
            kept = self._readings.get(study_id)
            if kept and kept[0] == version:
                reading = kept[1]
                if reading.row != row:
                    reading = replace(reading, row=row)
                return reading
        return self._keep(self.read(row, edits))

    def edit(self, study_id: str, edit: Edit, *, who: str, why: str, old: Any) -> Reading:
        """Try an edit, write it to the ledger if it can be used, and return the study after it.

        Raises
        ------
        ArterioleError
            An edit that cannot be used; the ledger is then as it was.
        """
        with self._lock:
            row, edits = self.store.study(study_id), self.store.edits(study_id)
            draft = EditRecord(id="draft", edit=edit, who=who, when="", why=why)
            tried = self.read(row, (*edits, draft))
            line = self.store.append_edit(study_id, edit, who=who, why=why, old=old)
            return self._keep(replace(tried, edits=(*edits, line), row=self.store.study(study_id)))

    def body(self, reading: Reading) -> bytes:
        """Return the result document's canonical bytes."""
        return self.conductor.to_bytes(reading.result)

    def read(self, row: StudyRow, edits: tuple[EditRecord, ...]) -> Reading:
        """Return what these edits make of the study; nothing is kept.

        Raises
        ------
        ArterioleError
            An edit that cannot be used, or a recording that cannot be read.
        """
        laid = self._lay(row)
        first = self.store.first_sheet(row.id)
        effective = resolve(first, edits)
        result = self.conductor.decide(laid.measurement, effective, __version__)
        return Reading(
            row=row, laid=laid, edits=edits, effective=effective,
            marks=standing_marks(first, edits), result=result,
            document=self.conductor.to_json(result),
        )  # fmt: skip

    def _keep(self, reading: Reading) -> Reading:
        study_id, edits = reading.row.id, reading.edits
        self.store.keep_result(
            study_id, input_hash=self.input_hash(reading), version=__version__,
            body=canonical(reading.document), summary=summary_of(reading.document),
        )  # fmt: skip
        with self._lock:
            self._readings[study_id] = (self._version(reading.row, edits), reading)
            self._readings.move_to_end(study_id)
            while len(self._readings) > 4 * MOST_OPEN:
                self._readings.popitem(last=False)
        return reading

    def input_hash(self, reading: Reading) -> str:
        """Return the hash of all that the result was made from."""
        parts = canonical({
            "recording": reading.laid.recording.sha256, "sheet": reading.document["sheet"],
            "settings": reading.document["settings"], "rules": reading.effective.rules,
            "software": __version__,
        })  # fmt: skip
        return hashlib.sha256(parts.encode()).hexdigest()

    def _lay(self, row: StudyRow) -> Laid:
        key = self._key(row)
        with self._lock:
            one_at_a_time = self._busy.setdefault(key, threading.Lock())
        with one_at_a_time:
            with self._lock:
                if key in self._laid:
                    self._laid.move_to_end(key)
                    return self._laid[key]
            return self._measured(row, key)

    def _measured(self, row: StudyRow, key: str) -> Laid:
        runs = [
            self.conductor.read(self.store.main_file(row.id, k), one.column_map, row.sheet)
            for k, one in enumerate(row.recordings)
        ]
        recording = join_runs(runs)
        laid = Laid(
            recording=recording,
            pyramids=tuple(pyramid_of(c) for c in recording.channels),
            measurement=self.conductor.measure(recording),
        )
        with self._lock:
            self._laid[key] = laid
            while len(self._laid) > 1 and (
                len(self._laid) > MOST_OPEN
                or sum(x.bytes for x in self._laid.values()) > MOST_BYTES
            ):
                self._laid.popitem(last=False)
        return laid

    def _version(self, row: StudyRow, edits: tuple[EditRecord, ...]) -> tuple[str, str]:
        return self._key(row), edits[-1].id if edits else ""

    @staticmethod
    def _key(row: StudyRow) -> str:
        return canonical([[r.sha256, r.column_map, row.sheet.get("rate_hz")]
                          for r in row.recordings])  # fmt: skip


def summary_of(document: dict[str, Any]) -> dict[str, Any]:
    """Return what the Shelf shows of a result: FFR as printed, pattern, vessel."""
    ffr = next((i for i in document["indices"] if i["key"] == "ffr"), None)
    return {
        "ffr": f"{ffr['value']:.{ffr.get('decimals', 2)}f}" if ffr and ffr["value"] else None,
        "pattern": document["statement"]["pattern"],
        "vessel": document["sheet"].get("vessel"),
    }


def standing_marks(sheet: Sheet, edits: tuple[EditRecord, ...]) -> dict[str, Mark]:
    """Return the marks that stand, by identity, as :func:`resolve` sees them."""
    marks = {mark_id(m.kind, _time_of(m)): m for m in sheet.marks}
    for record in standing(edits):
        if isinstance(record.edit, MarkSet):
            marks[record.edit.id] = record.edit.mark
        elif isinstance(record.edit, MarkRemoved):
            marks.pop(record.edit.id, None)
    return marks


def _time_of(mark: Mark) -> float:
    time = mark.time_s if mark.time_s is not None else mark.start_s
    return time if time is not None else 0.0
