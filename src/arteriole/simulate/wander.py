"""A slow random wander: first-order, with a given spread and memory."""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]


def _remember(state: Row, keep: float, row: Row) -> None:
    last = state[0]
    for k in range(row.shape[0]):
        last = keep * last + row[k]
        row[k] = last
    state[0] = last


@cache
def _compiled() -> Callable[..., None]:
    import numba

    compiled: Callable[..., None] = numba.njit(cache=True)(_remember)
    return compiled


def wander(
    rng: np.random.Generator,
    n: int,
    rate_hz: float,
    *,
    memory_s: float,
    sd: float,
    state: Row | None = None,
) -> Row:
    """Return ``n`` samples of wander; ``state`` shape (1,) is carried from block to block."""
    keep = float(np.exp(-1.0 / (rate_hz * memory_s)))
    row: Row = rng.standard_normal(n) * (sd * (1.0 - keep * keep) ** 0.5)
    _compiled()(np.zeros(1) if state is None else state, keep, row)
    return row
