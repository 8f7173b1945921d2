"""Sheets and settings from JSON or TOML files."""

import json
import tomllib
from pathlib import Path
from typing import Any

from arteriole.errors import SheetInvalid
from arteriole.recording import Settings, Sheet
from arteriole.recording.settings import settings_from_mapping
from arteriole.recording.sheet import sheet_from_mapping

_MAX_BYTES = 4_000_000


def read_sheet(path: Path) -> Sheet:
    """Return the sheet in a JSON or TOML file.

    Raises
    ------
    SheetInvalid
        Not readable, neither JSON nor TOML, or a field that cannot be used.
    """
    return sheet_from_mapping(read_mapping(path, "sheet"))


def read_settings(path: Path) -> Settings:
    """Return the settings in a JSON or TOML file.

    Raises
    ------
    SheetInvalid
        Not readable, neither JSON nor TOML, or a setting that cannot be used.
    """
    return settings_from_mapping(read_mapping(path, "settings"))


def read_mapping(path: Path, what: str) -> Any:
    """Return what a JSON or TOML file holds; ``what`` names it in errors.

    Raises
    ------
    SheetInvalid
        Not readable, too long, or neither JSON nor TOML.
    """
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise SheetInvalid(f"The {what} {path} is over {_MAX_BYTES} bytes; shorten it.")
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as fault:
        raise SheetInvalid(
            f"The {what} {path} cannot be read ({fault}); a JSON or TOML file in UTF-8 is needed. "
            "Check the path."
        ) from None
    try:
        if path.suffix.lower() == ".toml":
            return tomllib.loads(text)
        return json.loads(text)
    except (ValueError, RecursionError) as fault:
        raise SheetInvalid(
            f"The {what} {path} is not understood ({str(fault)[:120]}); JSON, or TOML in a file "
            "that ends in .toml, is needed. Correct that place."
        ) from None
