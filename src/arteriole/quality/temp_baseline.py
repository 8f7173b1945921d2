"""An unsteady baseline of the distal temperature: it shifts and stays shifted.

Signature: the upper sixth of the temperatures over minutes before differs from that of minutes
after by 0.15 °C or more. Boluses and infusions lower the temperature for a while and do
not touch the upper sixth. The wire's way from the room into blood is left out. No published
tolerance; our choice, decision 0034. Look-ahead: 34 s
to find a shift, all that follows to say that it stays.
"""

import numpy as np

from arteriole.quality.scene import Scene, Seen
from arteriole.recording import Finding
from arteriole.recording.channel import Samples
from arteriole.signal import Flags
from arteriole.signal.graded import Span
from arteriole.signal.smooth import blocks, rolling_median

CODE = "temp_baseline"
BLOCK_S = 0.5
SIDE_S, SKIP_S, LEAST_SIDE_S = 400.0, 4.0, 30.0
STRIDE_S = 3.0  # between the instants tried; the place is then found to a block
UPPER = 0.85
SHIFT_C = 0.15
OUTSIDE_C = 2.0  # from the usual: not in blood
SETTLED_S = 20.0
STAYS_S = 10.0  # in blood without a break


def detect(scene: Scene, _sound: Flags) -> Seen:
    """Return where the baseline shifts for good."""
    grid = scene.grid
    if grid.temp_c is None or np.isnan(grid.temp_c).all():
        return Seen(code=CODE)
    width = max(round(BLOCK_S * grid.rate_hz), 1)
    t = rolling_median(blocks(grid.temp_c, width), 3)
    first = _settled(t)
    x = t[first:]
    side, skip, least = (round(s / BLOCK_S) for s in (SIDE_S, SKIP_S, LEAST_SIDE_S))
    if x.size < 2 * least + skip:
        return Seen(code=CODE)
    at = np.arange(least, x.size - least, round(STRIDE_S / BLOCK_S))
    shift = np.array([
        _upper(x[k + skip : k + skip + side]) - _upper(x[max(k - skip - side, 0) : k - skip])
        for k in at.tolist()
    ])  # fmt: skip
    best = int(np.argmax(np.nan_to_num(np.abs(shift))))
    size = float(shift[best])
    if not abs(size) >= SHIFT_C:
        return Seen(code=CODE)
    where = _steepest(x, int(at[best]), size, side)
    start = grid.time_s((first + where) * width)
    span = Span(code=CODE, channel="temp", start_s=start, end_s=grid.end_s)
    finding = Finding(
        code=CODE, severity="caution", channel="temp", start_s=start, end_s=grid.end_s,
        message=f"The temperature baseline shifts by {size:+.2f} °C at about {start:.0f} s and "
        "stays.",
        do="Set the temperature to zero in blood again before the next injection.",
    )  # fmt: skip
    return Seen(code=CODE, spans=(span,), findings=(finding,))


def _settled(t: Samples) -> int:
    """Return the first block from which the sensor stays in blood, with time to settle."""
    stay = round(STAYS_S / BLOCK_S)
    if t.size <= stay:
        return 0
    inside = np.abs(t - float(np.nanmedian(t))) <= OUTSIDE_C
    held = np.asarray(np.lib.stride_tricks.sliding_window_view(inside, stay).all(axis=1))
    if not held.any() or bool(held[0]):
        return 0
    return int(np.argmax(held)) + round(SETTLED_S / BLOCK_S)


def _upper(x: Samples) -> float:
    known = x[~np.isnan(x)]
    return float(np.quantile(known, UPPER)) if known.size else float("nan")


def _steepest(x: Samples, around: int, size: float, reach: int) -> int:
    """Return the block after which the level lies on the new side for good."""
    a, b = max(around - reach, 0), min(around + reach, x.size)
    old = _upper(x[max(around - reach - 8, 0) : max(around - 8, 1)])
    beyond = (x[a:b] - old) * np.sign(size) > 0.5 * abs(size)
    # the place that parts the two levels best
    score = np.cumsum(np.where(beyond, -1.0, 1.0))
    return a + int(np.argmax(score)) + 1
