"""Every channel on the grid of Pa: resampled once, never across a gap."""

import numpy as np

from arteriole.errors import UnreadableRecording
from arteriole.recording import Channel, Recording
from arteriole.recording.channel import Samples
from arteriole.signal.grid import Grid
from arteriole.signal.smooth import moving_mean

LEAST_SAMPLES = 2  # one sample has no rate to speak of
SAME_TIME = 1e-6  # of a step: rounding of a header's times


def align(recording: Recording) -> Grid:
    """Return the channels of a recording on Pa's grid.

    A faster channel is averaged over one step of Pa before it is read off (so that nothing
    folds down); a slower one is read between its samples. A value next to a lost sample is lost.
    Channels that are not there: Pd becomes all lost, the others None.

    Raises
    ------
    UnreadableRecording
        No Pa channel, or one without a single sample.
    """
    pa = recording.channel("pa")
    if pa.values.size < LEAST_SAMPLES:
        raise UnreadableRecording(
            f"Channel 'pa' of {recording.name!r} holds {pa.values.size} samples; at least "
            f"{LEAST_SAMPLES} are needed. Check that the right column is mapped with --map."
        )
    there = {c.name: c for c in recording.channels}
    pd = there.get("pd")
    return Grid(
        rate_hz=pa.rate_hz,
        start_s=pa.start_s,
        pa_mmhg=_finite(pa.values),
        pd_mmhg=_lost(pa) if pd is None else on_grid(pd, pa),
        temp_c=_optional(there.get("temp"), pa),
        shaft_c=_optional(there.get("shaft_temp"), pa),
        ecg_mv=_optional(there.get("ecg"), pa),
        pa_quantum_mmhg=pa.quantum,
        pd_quantum_mmhg=0.0 if pd is None else pd.quantum,
    )


def on_grid(channel: Channel, pa: Channel) -> Samples:
    """Return a channel's values at the samples of ``pa``, shape (pa samples,), NaN = lost."""
    values = _finite(channel.values)
    n, rate = pa.values.size, pa.rate_hz
    if not values.size:
        return _lost(pa)
    first = (pa.start_s - channel.start_s) * channel.rate_hz  # in samples of the channel
    per = channel.rate_hz / rate
    if abs(per - 1.0) * max(n, 1) < SAME_TIME * n and abs(first - round(first)) < SAME_TIME:
        return _shifted(values, round(first), n)
    if per > 1.0:
        values = moving_mean(values, round(per))
    at = first + np.arange(n) * per
    row = np.interp(at, np.arange(values.size), values, left=np.nan, right=np.nan)
    return _read_only(row)


def _shifted(values: Samples, first: int, n: int) -> Samples:
    if first == 0 and values.size == n:
        return values
    row = np.full(n, np.nan)
    a, b = max(-first, 0), min(values.size - first, n)
    if b > a:
        row[a:b] = values[a + first : b + first]
    return _read_only(row)


def _optional(channel: Channel | None, pa: Channel) -> Samples | None:
    return None if channel is None else on_grid(channel, pa)


def _finite(values: Samples) -> Samples:
    if not np.isinf(values).any():
        return values
    return _read_only(np.where(np.isinf(values), np.nan, values))


def _lost(pa: Channel) -> Samples:
    return _read_only(np.full(pa.values.size, np.nan))


def _read_only(row: Samples) -> Samples:
    row.flags.writeable = False
    return row
