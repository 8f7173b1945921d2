"""What can be undone and redone, read off the ledger alone."""

from collections.abc import Iterable
from dataclasses import dataclass

from arteriole.recording import EditRecord, Undo


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """``done``: edits that stand, oldest first; ``undone``: undo lines that can be taken back."""

    done: tuple[EditRecord, ...]
    undone: tuple[EditRecord, ...]

    @property
    def undo(self) -> str | None:
        """Id of the edit that the next undo takes back."""
        return self.done[-1].id if self.done else None

    @property
    def redo(self) -> str | None:
        """Id of the undo line that the next redo takes back."""
        return self.undone[-1].id if self.undone else None


def history_of(records: Iterable[EditRecord]) -> History:
    """Return both stacks after these lines.

    A new edit empties the redo stack; the Ledger can still bring back any single edit.
    """
    lines = tuple(records)
    rows = {r.id: r for r in lines}
    done: list[EditRecord] = []
    undone: list[EditRecord] = []
    for record in lines:
        if not isinstance(record.edit, Undo):
            done.append(record)
            undone.clear()
            continue
        target = rows.get(record.edit.edit_id)
        if target is None:
            continue
        if isinstance(target.edit, Undo):  # a redo: the first edit of the chain stands again
            undone = [u for u in undone if u.id != target.id]
            first = _first(target, rows)
            if first and first not in done:
                done.append(first)
        else:
            done = [d for d in done if d.id != target.id]
            undone.append(record)
    return History(done=tuple(done), undone=tuple(undone))


def _first(record: EditRecord, rows: dict[str, EditRecord]) -> EditRecord | None:
    seen: EditRecord | None = record
    while seen is not None and isinstance(seen.edit, Undo):
        seen = rows.get(seen.edit.edit_id)
    return seen
