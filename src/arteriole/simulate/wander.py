"""A slow random wander: first-order, with a given spread and memory."""

import numpy as np
import numpy.typing as npt

from arteriole.simulate.compiled import compiled

Row = npt.NDArray[np.float64]


def _remember(state: Row, keep: float, row: Row) -> None:
    last = state[0]
    for k in range(row.shape[0]):
        last = keep * last + row[k]
        row[k] = last
    state[0] = last


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
    compiled(_remember)(np.zeros(1) if state is None else state, keep, row)
    return row
