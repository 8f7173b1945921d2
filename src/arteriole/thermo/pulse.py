r"""What the beat does to the mixed temperature: its mean over the flow, not over time.

Cold enters at an even rate while the flow pulses, so the mixture ripples with the beat. The heat
carried past the sensor is T times flow; its mean over a beat is the flow-weighted mean of T. A
plain mean over time is off by the covariance of T and flow, some per cent. Flow in the beat is not
measured, but its mean in diastole is known to be higher than in systole by a published ratio::

    flow   ‾‾‾\___________/‾‾‾‾‾‾   1 in diastole, 1 / ratio in systole
    Pa      foot    notch    foot
"""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples

#: Mean velocity in diastole over that in systole, (rest, hyperaemia) [Seligman2022].
LEFT_RATIO, RIGHT_RATIO = (1.85, 1.76), (1.53, 1.58)
RATIO_SHARE = 0.35  # SD over mean of that ratio between patients [Seligman2022]
USUAL_LAG_S = 0.15  # of a sensor whose lag is not on the sheet; from memory, no source
SMOOTH_S = 0.06  # before the lag is undone; decision 0014
LEAST_BEATS = 4  # fewer say nothing of the beat; decision 0014
PHASES = 40  # bins of the beat for its ripple
#: What the published ratio leaves open: shape within the beat, phase. Share of ripple times the
#: spread of flow within the beat; decision 0014.
FLOW_SPREAD, OPEN_SHARE = 0.35, 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pulse:
    """Whole beats of an infusion: foot, notch and next foot, s, shape (n,); flow's phasic ratio."""

    start_s: Samples
    notch_s: Samples
    end_s: Samples
    ratio: float
    lag_s: float = USUAL_LAG_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixing:
    """What to add to the plain mean of T for the flow's, its SD, and T's ripple (SD), °C."""

    shift_c: float
    sd_c: float
    ripple_c: float


def flow_weighted(
    temp_c: Samples, rate_hz: float, *, start_s: float, window_s: tuple[float, float], pulse: Pulse
) -> Mixing | None:
    """Return the step from the plain mean of T to the flow's over a window; None: too few beats.

    Parameters
    ----------
    temp_c : Samples
        Shape (n,), °C, NaN = lost.
    rate_hz, start_s : float
        Sample k lies at ``start_s + k / rate_hz``, s.
    window_s : tuple
        The plateau that is read.
    pulse : Pulse
        Beats, the vessel's ratio and the sensor's lag.

    Source
    ------
    [Seligman2022] for the ratio; the rest is the definition of a mean over the flow.
    """
    on = (pulse.start_s >= window_s[0]) & (pulse.end_s <= window_s[1])
    first, last = ((s - start_s) * rate_hz for s in window_s)
    part = temp_c[max(int(first), 0) : int(last) + 1]
    good = np.isfinite(part)
    if on.sum() < LEAST_BEATS or good.mean() < 0.8:
        return None
    t = start_s + (max(int(first), 0) + np.arange(part.size)) / rate_hz
    seen = _without_lag(np.interp(t, t[good], part[good]), rate_hz, pulse.lag_s)
    share = (np.arange(PHASES) + 0.5) / PHASES
    starts, lengths = pulse.start_s[on], (pulse.end_s - pulse.start_s)[on]
    at = starts[:, None] + share[None, :] * lengths[:, None]
    beats = np.interp(at, t, seen)
    beats = beats - beats.mean(axis=1, keepdims=True)
    systole = at < pulse.notch_s[on][:, None]
    flow = np.where(systole, 1.0 / pulse.ratio, 1.0)
    moved = (beats * flow).sum(axis=1) / flow.sum(axis=1)
    shift = float(np.average(moved, weights=lengths))
    ripple = float(beats.mean(axis=0).std())
    scatter = float(moved.std(ddof=1) / np.sqrt(moved.size))
    open_c = ripple * FLOW_SPREAD * OPEN_SHARE
    sd = float(np.sqrt((RATIO_SHARE * shift) ** 2 + open_c**2 + scatter**2))
    return Mixing(shift_c=shift, sd_c=sd, ripple_c=ripple)


def _without_lag(temp: Samples, rate_hz: float, lag_s: float) -> Samples:
    """Return what a sensor of this first-order lag was shown, smoothed."""
    width = max(round(SMOOTH_S * rate_hz), 1)
    kernel = np.full(width, 1.0 / width)
    smooth = np.convolve(np.pad(temp, width, mode="edge"), kernel, "same")[width:-width]
    slope = np.convolve(np.pad(np.gradient(smooth) * rate_hz, width, mode="edge"), kernel, "same")
    return np.asarray(smooth + lag_s * slope[width:-width], dtype=np.float64)
