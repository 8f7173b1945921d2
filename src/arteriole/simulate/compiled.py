"""Loops that run as machine code: compiled on first use, kept on disk where that is possible."""

from collections.abc import Callable
from functools import cache
from typing import Any

Loop = Callable[..., Any]


@cache
def compiled(loop: Loop, *, inline: bool = False) -> Loop:
    """Return the loop as machine code; importing this room stays fast, the first call pays."""
    import numba

    options = {"inline": "always"} if inline else {}
    try:
        made: Loop = numba.njit(cache=True, **options)(loop)
    except RuntimeError:  # nowhere to keep it: an installation that cannot be written
        made = numba.njit(**options)(loop)
    return made
