"""The tables. Big arrays are never in rows: a recording's bytes lie in the vault.

::

    study 1──n study_recording n──1 recording      event: one hash chain for the whole store
      └──n result (cache, never overwritten)
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)  # fmt: skip

#: Named constraints from day one: Alembic can only alter what has a name.
NAMING = {
    "ix": "ix_%(column_0_label)s", "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}  # fmt: skip
STATES = ("gathering", "complete", "signed", "reopened")


class UtcTime(TypeDecorator[datetime]):
    """A moment with its zone: naive times are refused, UTC is stored and comes back as UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def bind_processor(self, dialect: Dialect) -> Callable[[Any], Any]:
        """Return what makes an aware moment ready for the engine."""
        inner = self.impl_instance.bind_processor(dialect)

        def to_store(value: datetime | None) -> Any:
            if value is not None:
                if value.tzinfo is None:
                    raise ValueError(f"Time {value.isoformat()} has no zone; give an aware time.")
                value = value.astimezone(UTC)
            return inner(value) if inner else value

        return to_store

    def result_processor(self, dialect: Dialect, coltype: Any) -> Callable[[Any], Any]:
        """Return what gives UTC back where the engine dropped it."""
        inner = self.impl_instance.result_processor(dialect, coltype)

        def from_store(value: Any) -> datetime | None:
            moment: datetime | None = inner(value) if inner else value
            if moment is None:
                return None
            aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
            return aware.astimezone(UTC)

        return from_store


metadata = MetaData(naming_convention=NAMING)

study = Table(
    "study", metadata,
    Column("id", String(32), primary_key=True),
    Column("title", String(200), nullable=False),
    Column("state", String(16), nullable=False),
    Column("created_at", UtcTime, nullable=False),
    Column("changed_at", UtcTime, nullable=False),
    Column("sheet", JSON, nullable=False),
    CheckConstraint("state IN ('gathering','complete','signed','reopened')", name="state"),
)  # fmt: skip

recording = Table(
    "recording", metadata,
    Column("sha256", String(64), primary_key=True),
    Column("name", String(200), nullable=False),
    Column("format", String(32), nullable=False),
    Column("bytes", Integer, nullable=False),
    Column("duration_s", Float, nullable=False),
    Column("simulated", Integer, nullable=False),
    Column("channels", JSON, nullable=False),
    Column("stored_at", UtcTime, nullable=False),
)  # fmt: skip

study_recording = Table(
    "study_recording", metadata,
    Column("study_id", ForeignKey("study.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("sha256", ForeignKey("recording.sha256"), nullable=False),
    Column("main", String(200), nullable=False),  # the file to read; others go with it
    Column("column_map", JSON, nullable=False),
)  # fmt: skip

event = Table(
    "event", metadata,
    Column("seq", Integer, primary_key=True),
    Column("id", String(32), nullable=False, unique=True),
    Column("study_id", String(32), nullable=False, index=True),
    Column("at", UtcTime, nullable=False),
    Column("actor", String(120), nullable=False),
    Column("kind", String(32), nullable=False),
    Column("body", Text, nullable=False),
    Column("prev", String(64), nullable=False, unique=True),
    Column("hash", String(64), nullable=False, unique=True),
)  # fmt: skip

result = Table(
    "result", metadata,
    Column("seq", Integer, primary_key=True),
    Column("study_id", ForeignKey("study.id"), nullable=False, index=True),
    Column("input_hash", String(64), nullable=False),
    Column("software_version", String(32), nullable=False),
    Column("made_at", UtcTime, nullable=False),
    Column("body", Text, nullable=False),
    Column("summary", JSON, nullable=False),  # what a list shows, so that it reads no body
)  # fmt: skip
