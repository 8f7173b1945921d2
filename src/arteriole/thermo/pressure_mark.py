r"""What an injection does to the pressures: a spike on Pa, or Pa gone while the syringe is on.

::

    spike   Pa  _/\_/\_|~~~~|_/\_     flow through the catheter adds pressure at its hub
    lost    Pa  _/\_/\_------_/\_     flat or missing from turning the tap to turning it back
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.bins import bin_means

STEP_S = 0.02
SPIKE_MMHG = 40.0  # above the highest beat before it; decision 0050
#: Half-way edges of a spike against the flow's: fluid line and flow law; decision 0050.
SPIKE_DELAY_S, SPIKE_SD_S = 0.015, 0.02
FLAT_VIEW_S = 0.4  # a window this long without pulse is no beat's diastole at >= 40 bpm with notch
FLAT_SLOPE_MMHG_S = 30.0  # a late diastole falls faster; decision 0050
FLAT_MMHG = 2.0  # rms about a straight line within that window; decision 0050
#: Where in a lost stretch the injection lies: the tap is turned before and back after; its middle
#: lies near 0.42 of the stretch; wide; decisions 0050, 0012.
LOST_SHARE, LOST_SD_S = 0.42, 0.17
TYPICAL_INJECTION_S = 0.6  # brisk hand injection of 3 mL; from memory, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureMark:
    """The injection as the pressures show it; times in s from the recording's start."""

    kind: Literal["spike", "lost"]
    start_s: float
    end_s: float
    zero_s: float
    zero_sd_s: float
    lost_s: float = 0.0


def read_pressure_mark(
    pa_mmhg: Samples, rate_hz: float, *, start_s: float, from_s: float, to_s: float, near_s: float
) -> PressureMark | None:
    """Return the mark an injection near ``near_s`` left on Pa, or None.

    Parameters
    ----------
    pa_mmhg : Samples
        Shape (n,), mmHg, NaN = lost.
    rate_hz : float
        Samples per second.
    start_s : float
        Time of the first sample, s.
    from_s, to_s : float
        Where to look, s.
    near_s : float
        The injection's approximate time, s.
    """
    bins = int((to_s - from_s) / STEP_S)
    if bins < int(2.0 / STEP_S):
        return None
    pa = bin_means(
        pa_mmhg, rate_hz, start_s=start_s, from_s=from_s, step_s=STEP_S, bins=bins
    )  # fmt: skip
    t = from_s + (np.arange(bins, dtype=np.float64) + 0.5) * STEP_S
    return _spike(pa, t, near_s) or _lost(pa, t, near_s)


def _spike(pa: Samples, t: Samples, near_s: float) -> PressureMark | None:
    close = np.abs(t - near_s) < 2.5
    if not np.isfinite(pa[close]).any():
        return None
    usual = float(np.nanpercentile(pa, 90.0))
    foot = float(np.nanmedian(pa))
    top = float(np.nanmax(np.where(close, pa, np.nan)))
    if top < usual + SPIKE_MMHG:
        return None
    filled = np.where(np.isfinite(pa), pa, foot)
    at = int(np.nanargmax(np.where(close, pa, np.nan)))
    half = foot + 0.5 * (float(np.percentile(filled[max(at - 10, 0) : at + 10], 50)) - foot)
    left = at
    while left > 0 and filled[left] > half:
        left -= 1
    right = at
    while right < filled.size - 1 and filled[right] > half:
        right += 1
    if filled[left] > half or filled[right] > half:
        return None  # it began before the view or outlasts it: its middle is not known
    up = t[left] + STEP_S * (half - filled[left]) / max(filled[left + 1] - filled[left], 1e-9)
    down = t[right] - STEP_S * (half - filled[right]) / max(
        filled[right - 1] - filled[right], 1e-9
    )  # fmt: skip
    edge = 0.08 * (down - up)
    return PressureMark(
        kind="spike", start_s=float(up - SPIKE_DELAY_S - edge),
        end_s=float(down - SPIKE_DELAY_S + edge),
        zero_s=float(0.5 * (up + down) - SPIKE_DELAY_S), zero_sd_s=SPIKE_SD_S,
    )  # fmt: skip


def _lost(pa: Samples, t: Samples, near_s: float) -> PressureMark | None:
    width = int(FLAT_VIEW_S / STEP_S)
    if pa.size <= 2 * width:
        return None
    x = np.arange(width) - 0.5 * (width - 1)
    windows = np.lib.stride_tricks.sliding_window_view(pa, width)
    mean = windows.mean(axis=1)
    slope = windows @ x / float(x @ x)
    variance = (windows**2).mean(axis=1) - mean**2 - slope**2 * float(x @ x) / width
    rms = np.sqrt(np.where(np.isnan(variance), np.inf, np.maximum(variance, 0.0)))
    quiet = (rms <= FLAT_MMHG) & (np.abs(slope) / STEP_S <= FLAT_SLOPE_MMHG_S)
    covered = np.isnan(pa)
    for k in np.flatnonzero(quiet):
        covered[k : k + width] = True
    edges = np.flatnonzero(np.diff(np.concatenate([[0], covered.astype(np.int8), [0]])))
    runs = [(t[a], t[b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    best = [r for r in runs if r[1] - r[0] >= 0.8 and r[0] - 1.0 < near_s < r[1] + 1.0]
    if not best:
        return None
    a, b = max(best, key=lambda r: r[1] - r[0])
    zero = a + LOST_SHARE * (b - a)
    half = min(0.5 * TYPICAL_INJECTION_S, 0.3 * (b - a))
    return PressureMark(
        kind="lost", start_s=float(zero - half), end_s=float(zero + half), zero_s=float(zero),
        zero_sd_s=LOST_SD_S, lost_s=float(b - a),
    )  # fmt: skip
