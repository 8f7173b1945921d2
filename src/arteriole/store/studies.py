"""Rows of studies, their recordings and their cached results."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, func, or_, select

from arteriole.errors import UnknownKey
from arteriole.recording import Recording
from arteriole.store.schema import recording, result, study, study_recording


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRecording:
    """A recording as the store knows it; its bytes lie in the vault under ``sha256``."""

    sha256: str
    name: str
    format: str
    bytes: int
    duration_s: float
    simulated: bool
    channels: tuple[dict[str, Any], ...]
    main: str
    column_map: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRow:
    """A study: its title, state and the sheet as first given; edits come from the ledger."""

    id: str
    title: str
    state: str
    created_at: datetime
    changed_at: datetime
    sheet: dict[str, Any]
    recordings: tuple[StoredRecording, ...]

    @property
    def simulated(self) -> bool:
        """Whether anything in it was simulated."""
        return bool(self.sheet.get("simulated")) or any(r.simulated for r in self.recordings)


def put_recording(connection: Connection, one: Recording, size: int, at: datetime) -> None:
    """Add the row of a recording unless it is there."""
    known = connection.execute(
        select(recording.c.sha256).where(recording.c.sha256 == one.sha256)
    ).first()
    if known is None:
        channels = [
            {"name": c.name, "unit": c.unit, "rate_hz": c.rate_hz,
             "missing_fraction": c.missing_fraction}
            for c in one.channels
        ]  # fmt: skip
        connection.execute(
            recording.insert().values(
                sha256=one.sha256, name=one.name[:200], format=one.format, bytes=size,
                duration_s=one.duration_s, simulated=int(one.simulated), channels=channels,
                stored_at=at,
            )
        )  # fmt: skip


def put_study(
    connection: Connection, study_id: str, title: str, sheet: dict[str, Any], at: datetime
) -> None:
    """Add a study in the state ``gathering``."""
    connection.execute(
        study.insert().values(
            id=study_id, title=title[:200], state="gathering", created_at=at, changed_at=at,
            sheet=sheet,
        )
    )  # fmt: skip


def link(
    connection: Connection, study_id: str, sha256: str, main: str, column_map: dict[str, str]
) -> None:
    """Put a recording behind the last one of the study."""
    position = connection.execute(
        select(func.count()).where(study_recording.c.study_id == study_id)
    ).scalar_one()
    connection.execute(
        study_recording.insert().values(
            study_id=study_id, position=position, sha256=sha256, main=main, column_map=column_map
        )
    )


def touch(connection: Connection, study_id: str, at: datetime, state: str | None = None) -> None:
    """Note that the study changed; optionally with a new state."""
    values: dict[str, Any] = {"changed_at": at} | ({"state": state} if state else {})
    connection.execute(study.update().where(study.c.id == study_id).values(values))


def study_row(connection: Connection, study_id: str) -> StudyRow:
    """Return the study.

    Raises
    ------
    UnknownKey
        No study has this id.
    """
    row = connection.execute(select(study).where(study.c.id == study_id)).first()
    if row is None:
        raise UnknownKey(
            f"Study {study_id[:40]!r} is not in this store. See the Shelf for those that are."
        )
    return _with_recordings(connection, row)


def study_rows(connection: Connection, words: str = "", limit: int = 500) -> tuple[StudyRow, ...]:
    """Return studies, last changed first; each word must occur in title, state or sheet."""
    query = select(study)
    for word in words.split():
        pattern = "%" + word.replace("\\", "\\\\").replace("%", r"\%").replace("_", r"\_") + "%"
        query = query.where(
            or_(*(
                func.lower(column).like(pattern.lower(), escape="\\")
                for column in (study.c.title, study.c.state, study.c.id, _as_text(study.c.sheet))
            ))
        )  # fmt: skip
    rows = connection.execute(query.order_by(study.c.changed_at.desc(), study.c.id).limit(limit))
    return tuple(_with_recordings(connection, row) for row in rows.all())


def put_result(
    connection: Connection,
    study_id: str,
    *,
    key: str,
    version: str,
    body: str,
    summary: dict[str, Any],
    at: datetime,
) -> None:
    """Keep a result document; the same inputs and version are kept once, nothing is replaced."""
    last = connection.execute(
        select(result.c.input_hash, result.c.software_version)
        .where(result.c.study_id == study_id)
        .order_by(result.c.seq.desc()).limit(1)
    ).first()  # fmt: skip
    if last is None or tuple(last) != (key, version):
        connection.execute(
            result.insert().values(
                study_id=study_id, input_hash=key, software_version=version, made_at=at,
                body=body, summary=summary,
            )
        )  # fmt: skip


def latest_summaries(connection: Connection) -> dict[str, dict[str, Any]]:
    """Return the summary of the last kept result of every study, by study."""
    newest = select(func.max(result.c.seq)).group_by(result.c.study_id)
    rows = connection.execute(
        select(result.c.study_id, result.c.summary).where(result.c.seq.in_(newest))
    )
    return {row.study_id: row.summary for row in rows}


def latest_result(connection: Connection, study_id: str) -> dict[str, Any] | None:
    """Return the last kept result document of the study."""
    row = connection.execute(
        select(result.c.body)
        .where(result.c.study_id == study_id)
        .order_by(result.c.seq.desc()).limit(1)
    ).first()  # fmt: skip
    return json.loads(row.body) if row else None


def _as_text(column: Any) -> Any:
    from sqlalchemy import Text, cast

    return cast(column, Text)


def _with_recordings(connection: Connection, row: Row[Any]) -> StudyRow:
    rows = connection.execute(
        select(recording, study_recording.c.main, study_recording.c.column_map)
        .join(study_recording, study_recording.c.sha256 == recording.c.sha256)
        .where(study_recording.c.study_id == row.id)
        .order_by(study_recording.c.position)
    )
    return StudyRow(
        id=row.id, title=row.title, state=row.state, created_at=row.created_at,
        changed_at=row.changed_at, sheet=row.sheet,
        recordings=tuple(
            StoredRecording(
                sha256=r.sha256, name=r.name, format=r.format, bytes=r.bytes,
                duration_s=r.duration_s, simulated=bool(r.simulated),
                channels=tuple(r.channels), main=r.main, column_map=r.column_map,
            )
            for r in rows
        ),
    )  # fmt: skip
