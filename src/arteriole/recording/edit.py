"""Edits: what a person changed, as values. Nothing is deleted; undo is an edit too.

Only what :func:`resolve` returns reaches an analysis, so undoing an edit brings back the very
bytes of the result before it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from arteriole.errors import SheetInvalid
from arteriole.recording.mark import Mark, mark_id
from arteriole.recording.settings import Settings, settings_from_mapping
from arteriole.recording.sheet import Sheet, sheet_from_mapping, sheet_to_mapping

DEFAULT_RULES = "default"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSet:
    """Add or replace the mark with this identity."""

    id: str
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRemoved:
    """Take a mark away; what is found by itself stands again."""

    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSet:
    """Give one top-level sheet field a new value; None means "not recorded"."""

    field: str
    value: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsSet:
    """Give one setting a new value; None brings back the default."""

    name: str
    value: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class RulesSet:
    """Choose a rule table by name."""

    rules: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo:
    """Take back the edit with this id. Undoing an undo is a redo."""

    edit_id: str


Edit = MarkSet | MarkRemoved | SheetSet | SettingsSet | RulesSet | Undo


@dataclass(frozen=True, slots=True, kw_only=True)
class EditRecord:
    """One line of the ledger: an edit with who, when (UTC, ISO 8601) and why."""

    id: str
    edit: Edit
    who: str
    when: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Effective:
    """What the edits amount to."""

    sheet: Sheet
    marks: tuple[Mark, ...]
    settings: Settings
    rules: str


def standing(records: Iterable[EditRecord]) -> tuple[EditRecord, ...]:
    """Return the records that are neither undone nor undos, in order.

    An undo that is itself undone takes nothing back.
    """
    rows = tuple(records)
    undone: set[str] = set()
    for row in reversed(rows):
        if isinstance(row.edit, Undo) and row.id not in undone:
            undone.add(row.edit.edit_id)
    return tuple(r for r in rows if r.id not in undone and not isinstance(r.edit, Undo))


def resolve(sheet: Sheet, records: Iterable[EditRecord]) -> Effective:
    """Return the effective sheet, marks, settings and rules after the standing edits.

    Raises
    ------
    SheetInvalid
        An edit names an unknown sheet field or setting.
    """
    marks = {_id_of(m): m for m in sheet.marks}
    sheet_map = sheet_to_mapping(replace(sheet, marks=()))
    settings_map: dict[str, Any] = {}
    rules = DEFAULT_RULES
    for record in standing(records):
        match record.edit:
            case MarkSet(id=key, mark=mark):
                marks[key] = mark
            case MarkRemoved(id=key):
                marks.pop(key, None)
            case SheetSet(field=name, value=value):
                if name == "marks":
                    raise SheetInvalid(
                        "Marks are changed by MarkSet and MarkRemoved, not SheetSet."
                    )
                _put(sheet_map, name, value)
            case SettingsSet(name=name, value=value):
                _put(settings_map, name, value)
            case RulesSet(rules=name):
                rules = name
            case Undo():  # standing() returns none
                pass
    ordered = tuple(marks[k] for k in sorted(marks))
    return Effective(
        sheet=replace(sheet_from_mapping(sheet_map), marks=ordered),
        marks=ordered,
        settings=settings_from_mapping(settings_map),
        rules=rules,
    )


def _put(mapping: dict[str, Any], name: str, value: Any) -> None:
    if value is None:
        mapping.pop(name, None)
    else:
        mapping[name] = value


def _id_of(mark: Mark) -> str:
    time = mark.time_s if mark.time_s is not None else mark.start_s
    return mark_id(mark.kind, time if time is not None else 0.0)
