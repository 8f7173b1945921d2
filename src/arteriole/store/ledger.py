"""The ledger: one append-only hash chain of everything that was done in this store.

``hash = SHA-256(prev + body)`` over the stored text itself, never over re-serialised values: an
engine may rewrite numbers in its own JSON type. The chain proves order and completeness, not
against an owner who rebuilds it all.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from arteriole.recording import EditRecord
from arteriole.store.edit_json import edit_from_mapping
from arteriole.store.schema import event

GENESIS = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One line of the ledger. ``content`` is the parsed body: edit, why, old, and so on."""

    seq: int
    id: str
    study_id: str
    at: datetime
    actor: str
    kind: str
    content: dict[str, Any]
    hash: str

    def edit_record(self) -> EditRecord:
        """Return the edit of an ``edit`` line."""
        return EditRecord(
            id=self.id,
            edit=edit_from_mapping(self.content["edit"]),
            who=self.actor,
            when=self.at.isoformat(),
            why=str(self.content.get("why", "")),
        )


def canonical(content: Any) -> str:
    """Return sorted, compact JSON; NaN is refused."""
    return json.dumps(
        content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def append(
    connection: Connection,
    *,
    id: str,  # noqa: A002  # the column's own name
    study_id: str,
    at: datetime,
    actor: str,
    kind: str,
    content: dict[str, Any],
) -> Event:
    """Add a line at the end of the chain, inside the caller's transaction, and return it."""
    last = connection.execute(
        select(event.c.seq, event.c.hash).order_by(event.c.seq.desc()).limit(1)
    ).first()
    prev = last.hash if last else GENESIS
    body = canonical({
        "id": id, "study": study_id, "at": at.isoformat(), "actor": actor, "kind": kind,
        "content": content,
    })  # fmt: skip
    digest = _digest(prev, body)
    seq = last.seq + 1 if last else 1
    connection.execute(
        event.insert().values(
            seq=seq, id=id, study_id=study_id, at=at, actor=actor, kind=kind, body=body,
            prev=prev, hash=digest,
        )
    )  # fmt: skip
    return Event(
        seq=seq, id=id, study_id=study_id, at=at, actor=actor, kind=kind, content=content,
        hash=digest,
    )  # fmt: skip


def events_of(connection: Connection, study_id: str) -> tuple[Event, ...]:
    """Return the study's lines in order."""
    rows = connection.execute(
        select(event).where(event.c.study_id == study_id).order_by(event.c.seq)
    )
    return tuple(
        Event(
            seq=r.seq, id=r.id, study_id=r.study_id, at=r.at, actor=r.actor, kind=r.kind,
            content=json.loads(r.body)["content"], hash=r.hash,
        )
        for r in rows
    )  # fmt: skip


def faults_of(connection: Connection) -> tuple[str, ...]:
    """Return what is wrong with the chain, in order; empty when it is whole.

    Checked: each line's hash, its link to the line before, gaps in the numbering, and that the
    columns beside the body say what the body says.
    """
    prev, number, faults = GENESIS, 0, []
    for row in connection.execute(select(event).order_by(event.c.seq)):
        number += 1
        if row.seq != number:
            faults.append(f"line {number} is missing; the next is {row.seq}")
            number = row.seq
        if row.prev != prev:
            faults.append(f"line {row.seq} does not follow the line before it")
        if row.hash != _digest(row.prev, row.body):
            faults.append(f"line {row.seq} was changed after it was written")
        body = json.loads(row.body)
        beside = (row.id, row.study_id, row.at.isoformat(), row.actor, row.kind)
        if beside != tuple(body[k] for k in ("id", "study", "at", "actor", "kind")):
            faults.append(f"line {row.seq} says one thing in its columns and another in its body")
        prev = row.hash
    return tuple(faults)


def head_of(connection: Connection) -> str:
    """Return the hash of the last line: printed on a report, it dates the whole ledger."""
    last = connection.execute(select(event.c.hash).order_by(event.c.seq.desc()).limit(1)).first()
    return str(last.hash) if last else GENESIS


def _digest(prev: str, body: str) -> str:
    return hashlib.sha256((prev + body).encode()).hexdigest()
