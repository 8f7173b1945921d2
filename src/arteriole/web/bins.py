"""Level of detail: exact lowest and highest value of every bin, from a pyramid.

A bin never hides a one-sample spike: it is the true minimum and maximum of all its samples.
Bins lie on whole multiples of their width from the first sample, so a picture does not shimmer
when it is moved.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording import Channel

Floats = npt.NDArray[np.float32]

STEP = 16  # samples of one level in one of the next; our choice, decision 0071
#: Share of samples cut at either end for an axis; what lies beyond is drawn to the edge, flagged.
CUT = 0.0005
ROOM = 0.35  # of the rest; a bolus is rarer than CUT and still lies on the axis
MOST_COUNTED = 400_000
MOST_BINS = 16_384  # wider than any screen; our choice, decision 0071


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pyramid:
    """One channel at several levels of detail. ``limits`` suit an axis, ``middle`` the median.

    ``levels[k]`` holds (lowest, highest), each shape (n_k,), of ``STEP**k`` samples per bin, the
    last bin possibly of fewer. NaN: every sample lost. float32 keeps order, so exactness of a
    minimum is that of the samples.
    """

    name: str
    start_s: float
    rate_hz: float
    levels: tuple[tuple[Floats, Floats], ...]
    limits: tuple[float, float]
    middle: float

    @property
    def samples(self) -> int:
        """Number of samples."""
        return int(self.levels[0][0].size)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bins:
    """What is drawn: first time and step, s; ``values`` interleaves low and high if ``pairs``."""

    start_s: float
    step_s: float
    pairs: bool
    values: Floats


def pyramid_of(channel: Channel) -> Pyramid:
    """Return the channel's levels of detail; about 1.14 times its samples in float32."""
    raw = channel.values.astype(np.float32)
    levels = [(raw, raw)]
    while levels[-1][0].size > 4 * STEP:
        low, high = levels[-1]
        levels.append((_extremes(np.fmin, low, STEP), _extremes(np.fmax, high, STEP)))
    lowest, highest, middle = _limits(raw)
    return Pyramid(
        name=channel.name, start_s=channel.start_s, rate_hz=channel.rate_hz, levels=tuple(levels),
        limits=(lowest, highest), middle=middle,
    )  # fmt: skip


def bins_between(pyramid: Pyramid, start_s: float, end_s: float, *, wanted: int) -> Bins:
    """Return between ``wanted`` and about twice as many bins of the stretch, or its samples.

    Parameters
    ----------
    pyramid : Pyramid
        The channel.
    start_s, end_s : float
        The stretch, s from the recording's start; parts outside the channel are left out.
    wanted : int
        Smallest number of bins worth drawing; limited to ``MOST_BINS``.
    """
    wanted = max(1, min(MOST_BINS, wanted))
    rate, size = pyramid.rate_hz, pyramid.samples
    first = int(np.clip(np.floor((start_s - pyramid.start_s) * rate), 0, size))
    last = int(np.clip(np.ceil((end_s - pyramid.start_s) * rate) + 1, first, size))
    width = (last - first) // wanted
    if width < 2:
        return Bins(
            start_s=pyramid.start_s + first / rate, step_s=1 / rate, pairs=False,
            values=pyramid.levels[0][0][first:last],
        )  # fmt: skip
    level = 0
    while level + 1 < len(pyramid.levels) and STEP ** (level + 1) * 4 <= width:
        level += 1
    unit = STEP**level
    width = width // unit * unit
    first = first // width * width
    last = min(size, -(-last // width) * width)  # the last bin too holds all its samples
    low, high = pyramid.levels[level]
    cut = slice(first // unit, -(-last // unit))
    low, high = low[cut], high[cut]
    values = np.empty(2 * -(-low.size // (width // unit)), dtype=np.float32)
    values[0::2] = _extremes(np.fmin, low, width // unit)
    values[1::2] = _extremes(np.fmax, high, width // unit)
    return Bins(
        start_s=pyramid.start_s + first / rate, step_s=width / rate, pairs=True, values=values
    )


def packed(parts: Sequence[Bins]) -> bytes:
    """Return the wire form described in ``static/trace-wire.js``."""
    head = struct.pack("<II", len(parts), 0) + b"".join(
        struct.pack("<ddII", p.start_s, p.step_s, p.values.size, int(p.pairs)) for p in parts
    )
    return head + b"".join(np.ascontiguousarray(p.values, "<f4").tobytes() for p in parts)


def _limits(raw: Floats) -> tuple[float, float, float]:
    """Return limits for an axis and the median, from at most ``MOST_COUNTED`` samples."""
    some = raw[:: max(1, raw.size // MOST_COUNTED)]
    some = some[np.isfinite(some)]
    if not some.size:
        return 0.0, 1.0, 0.0
    low, middle, high = (float(q) for q in np.quantile(some, [CUT, 0.5, 1 - CUT]))
    room = ROOM * (high - low)
    lowest, highest = float(np.fmin.reduce(raw)), float(np.fmax.reduce(raw))
    return max(lowest, low - room), min(highest, high + room), middle


def _extremes(of: np.ufunc, values: Floats, width: int) -> Floats:
    """Return the extreme of every ``width`` values, the rest in a last shorter bin."""
    whole = values.size // width * width
    body: Floats = of.reduce(values[:whole].reshape(-1, width), axis=1)
    if whole == values.size:
        return body
    return np.append(body, of.reduce(values[whole:])).astype(np.float32)
