"""The store: what the doors call. Each change and its ledger line are one transaction."""

import secrets
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from arteriole.errors import OptionError, SheetInvalid, UnreadableRecording
from arteriole.recording import Edit, EditRecord, Recording, Sheet
from arteriole.recording.sheet import sheet_from_mapping, sheet_to_mapping
from arteriole.store import ledger, studies
from arteriole.store.edit_json import edit_to_mapping
from arteriole.store.engine import migrate, open_engine, sqlite_url
from arteriole.store.ledger import Event
from arteriole.store.studies import StudyRow
from arteriole.store.vault import Vault

#: States a person can choose now; signing comes with accounts.
OPEN_STATES = ("gathering", "complete")


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Store:
    """Studies, recordings, ledger and cached results of one place."""

    def __init__(
        self, engine: Engine, vault: Vault, *, clock: Callable[[], datetime] = _utc_now
    ) -> None:
        """Use an engine whose tables are up to date, and a vault."""
        self.engine, self.vault, self.clock = engine, vault, clock
        self._reader = engine.execution_options(reads=True)

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()

    # -- studies ---------------------------------------------------------------------------

    def add_study(
        self,
        recording: Recording,
        files: Sequence[Path],
        *,
        sheet: Sheet,
        who: str,
        title: str = "",
        column_map: dict[str, str] | None = None,
    ) -> StudyRow:
        """Keep the recording's files and return a new study around them.

        The first file is the one to be read. Nothing stays behind when any step fails.
        """
        at, study_id = self.clock(), secrets.token_hex(8)
        fresh = self.vault.put(recording.sha256, files)
        try:
            with self.engine.begin() as connection:
                size = sum(f.stat().st_size for f in files)
                studies.put_recording(connection, recording, size, at)
                name = title or sheet.case_id or recording.name
                studies.put_study(connection, study_id, name, sheet_to_mapping(sheet), at)
                studies.link(
                    connection, study_id, recording.sha256, files[0].name, column_map or {}
                )
                ledger.append(
                    connection, id=secrets.token_hex(8), study_id=study_id, at=at, actor=who,
                    kind="study added",
                    content={"recording": recording.sha256, "name": recording.name,
                             "sheet": sheet_to_mapping(sheet)},
                )  # fmt: skip
                return studies.study_row(connection, study_id)
        except BaseException:
            if fresh:
                self.vault.forget(recording.sha256)
            raise

    def add_run(
        self,
        study_id: str,
        recording: Recording,
        files: Sequence[Path],
        *,
        who: str,
        column_map: dict[str, str] | None = None,
    ) -> StudyRow:
        """Put one more run of the same case behind the study's last; undoing it is not offered.

        Raises
        ------
        SheetInvalid
            The run is in the study already.
        """
        at = self.clock()
        if any(r.sha256 == recording.sha256 for r in self.study(study_id).recordings):
            raise SheetInvalid(
                f"Run {recording.name!r} is in this study already; each run counts once. Add "
                "another file."
            )
        fresh = self.vault.put(recording.sha256, files)
        try:
            with self.engine.begin() as connection:
                size = sum(f.stat().st_size for f in files)
                studies.put_recording(connection, recording, size, at)
                studies.link(
                    connection, study_id, recording.sha256, files[0].name, column_map or {}
                )
                studies.touch(connection, study_id, at)
                ledger.append(
                    connection, id=secrets.token_hex(8), study_id=study_id, at=at, actor=who,
                    kind="run added",
                    content={"recording": recording.sha256, "name": recording.name},
                )  # fmt: skip
                return studies.study_row(connection, study_id)
        except BaseException:
            if fresh:
                self.vault.forget(recording.sha256)
            raise

    def study(self, study_id: str) -> StudyRow:
        """Return one study; UnknownKey if there is none of this id."""
        with self._reader.connect() as connection:
            return studies.study_row(connection, study_id)

    def studies(self, words: str = "") -> tuple[StudyRow, ...]:
        """Return the studies that hold all these words, last changed first."""
        with self._reader.connect() as connection:
            return studies.study_rows(connection, words)

    def set_state(self, study_id: str, state: str, *, who: str, why: str = "") -> StudyRow:
        """Set the study's state and note it in the ledger.

        Raises
        ------
        OptionError
            A state that cannot be chosen by hand.
        """
        if state not in OPEN_STATES:
            raise OptionError(
                f"State {state!r} cannot be set here; allowed: {', '.join(OPEN_STATES)}. "
                "Signing needs accounts, which this version does not have."
            )
        at = self.clock()
        with self.engine.begin() as connection:
            old = studies.study_row(connection, study_id).state
            studies.touch(connection, study_id, at, state)
            ledger.append(
                connection, id=secrets.token_hex(8), study_id=study_id, at=at, actor=who,
                kind="state set", content={"old": old, "new": state, "why": why},
            )  # fmt: skip
            return studies.study_row(connection, study_id)

    def main_file(self, study_id: str, position: int = 0) -> Path:
        """Return the path of the file to read for one of the study's recordings.

        Raises
        ------
        UnreadableRecording
            The bytes are no longer there.
        """
        one = self.study(study_id).recordings[position]
        files = {f.name: f for f in self.vault.files_of(one.sha256)}
        if one.main not in files:
            raise UnreadableRecording(
                f"Recording {one.sha256[:12]}… has no file {one.main!r} in the vault; its bytes "
                "are needed to show the study. Bring the folder back from a backup."
            )
        return files[one.main]

    # -- edits -----------------------------------------------------------------------------

    def append_edit(
        self,
        study_id: str,
        edit: Edit,
        *,
        who: str,
        why: str = "",
        old: Any = None,
    ) -> EditRecord:
        """Add an edit to the ledger and return its line; ``old`` is what it replaces.

        Raises
        ------
        SheetInvalid
            The study is signed.
        """
        at = self.clock()
        with self.engine.begin() as connection:
            if studies.study_row(connection, study_id).state == "signed":
                raise SheetInvalid("The study is signed; a signed study is not edited. Reopen it.")
            line = ledger.append(
                connection, id=secrets.token_hex(8), study_id=study_id, at=at, actor=who,
                kind="edit", content={"edit": edit_to_mapping(edit), "why": why, "old": old},
            )  # fmt: skip
            studies.touch(connection, study_id, at)
        return line.edit_record()

    def events(self, study_id: str) -> tuple[Event, ...]:
        """Return every ledger line of the study, in order."""
        with self._reader.connect() as connection:
            return ledger.events_of(connection, study_id)

    def edits(self, study_id: str) -> tuple[EditRecord, ...]:
        """Return the study's edits, in order, undone ones and undos included."""
        return tuple(e.edit_record() for e in self.events(study_id) if e.kind == "edit")

    def first_sheet(self, study_id: str) -> Sheet:
        """Return the sheet as it was given at import, before any edit."""
        return sheet_from_mapping(self.study(study_id).sheet)

    def ledger_faults(self) -> tuple[str, ...]:
        """Return what is wrong with the ledger's chain; empty when it is whole."""
        with self._reader.connect() as connection:
            return ledger.faults_of(connection)

    def ledger_head(self) -> str:
        """Return the hash of the ledger's last line."""
        with self._reader.connect() as connection:
            return ledger.head_of(connection)

    # -- results ---------------------------------------------------------------------------

    def keep_result(
        self,
        study_id: str,
        *,
        input_hash: str,
        version: str,
        body: str,
        summary: dict[str, Any] | None = None,
    ) -> None:
        """Keep a result document beside the hash of what it was made from."""
        with self.engine.begin() as connection:
            studies.put_result(
                connection, study_id, key=input_hash, version=version, body=body,
                summary=summary or {}, at=self.clock(),
            )  # fmt: skip

    def latest_summaries(self) -> dict[str, dict[str, Any]]:
        """Return what was kept as summary of every study's last result, by study."""
        with self._reader.connect() as connection:
            return studies.latest_summaries(connection)

    def latest_result(self, study_id: str) -> dict[str, Any] | None:
        """Return the last kept result document, or None before the first analysis."""
        with self._reader.connect() as connection:
            return studies.latest_result(connection, study_id)


def open_store(address: str, *, clock: Callable[[], datetime] = _utc_now) -> Store:
    """Open or create the store at a SQLite file; recordings lie in a folder beside it.

    Raises
    ------
    OptionError
        An address that cannot be used.
    """
    url = sqlite_url(address)
    place = Path(str(url.database)).expanduser().resolve()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        vault = Vault(place.parent / "recordings")
        engine = open_engine(url.set(database=str(place)))
        migrate(engine)
    except OSError as fault:
        raise OptionError(
            f"Store {str(place)!r} cannot be opened ({fault.strerror}); a folder that can be "
            "written is needed. Choose another --store."
        ) from None
    return Store(engine, vault, clock=clock)
