"""Dates at the border: the study's own, and the instant at which a document is made."""

import re
from datetime import date, datetime

from arteriole.errors import OptionError
from arteriole.study.result import Result

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


def instant(at: str) -> datetime:
    """Return an ISO 8601 instant with zone.

    Raises
    ------
    OptionError
        It is none.
    """
    try:
        if _INSTANT.fullmatch(at):
            return datetime.fromisoformat(at)
    except ValueError:
        pass
    raise OptionError(
        f"Time {at[:40]!r} was given; an instant like 2026-01-31T12:00:00Z is needed. Add the zone."
    )


def day_of(result: Result) -> date | None:
    """Return the study's date if the sheet has one that is in the calendar."""
    said = result.sheet.date or ""
    try:
        return date.fromisoformat(said) if re.fullmatch(r"\d{4}-\d\d-\d\d", said) else None
    except ValueError:
        return None
