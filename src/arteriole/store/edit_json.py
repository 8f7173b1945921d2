"""Edits as plain values and back; the ``kind`` is the contract's name of the edit."""

from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from arteriole.errors import SheetInvalid
from arteriole.recording import (
    Edit,
    MarkRemoved,
    MarkSet,
    RulesSet,
    SettingsSet,
    SheetSet,
    Undo,
)  # fmt: skip

KINDS: dict[str, type[Edit]] = {
    kind.__name__: kind for kind in (MarkSet, MarkRemoved, SheetSet, SettingsSet, RulesSet, Undo)
}


@cache
def _adapter(kind: str) -> TypeAdapter[Edit]:
    return TypeAdapter(KINDS[kind])


def edit_to_mapping(edit: Edit) -> dict[str, Any]:
    """Return the edit as plain values, ``kind`` first; absent parts of a mark left out."""
    kind = type(edit).__name__
    plain = _adapter(kind).dump_python(edit, mode="json")
    if "mark" in plain:
        plain["mark"] = {k: v for k, v in plain["mark"].items() if v is not None}
    return {"kind": kind, **plain}


def edit_from_mapping(mapping: Any) -> Edit:
    """Return the edit of plain values.

    Raises
    ------
    SheetInvalid
        An unknown kind, or a part that is missing, unknown or of the wrong type.
    """
    kind = mapping.get("kind") if isinstance(mapping, dict) else None
    if kind not in KINDS:
        raise SheetInvalid(
            f"Edit kind {kind!r} is not known; allowed: {', '.join(KINDS)}. Correct the kind."
        )
    rest = {k: v for k, v in mapping.items() if k != "kind"}
    unknown = set(rest) - set(KINDS[kind].__dataclass_fields__)
    if unknown:
        allowed = ", ".join(KINDS[kind].__dataclass_fields__)
        raise SheetInvalid(
            f"{kind} was given {', '.join(sorted(unknown))}; allowed: {allowed}. Remove the rest."
        )
    try:
        return _adapter(kind).validate_python(rest)
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        where = ".".join(str(p) for p in first["loc"]) or kind
        raise SheetInvalid(
            f"{kind} {where} was given {str(first.get('input'))[:60]!r}; {first['msg'].lower()}. "
            "Correct the edit."
        ) from None
