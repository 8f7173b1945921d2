r"""The wire's shaft inside the catheter: when the injectate left the tip.

::

    flow at the tip        ____/------\____           starts, runs, stops
    coldness of the bore   fills with the volume that passed, re-warms with one time constant
    shaft signal           the same seen through the shaft's own first-order lag

The whole chain is fitted forward, so fill, re-warming and lag are found anew for each injection;
none of them is a constant of this module. Time zero is the mean passage of the injectate, the
centroid of the fitted flow.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from arteriole.recording.channel import Samples
from arteriole.thermo.descent import Fit, Prior, fit_robustly
from arteriole.thermo.inlet import Pulse

STEP_S = 0.02  # grid of the fit; the shaft's lag is several times longer; decision 0050
LEVEL_SHARE = 0.01  # residual floor, share of the deepest drop: the model's own coarseness
REWARM_VIEW_S = 2.5  # how much of the re-warming is used, s; decision 0050
MIN_DROP_NOISE = 8.0  # the shaft must cool by this many noise SD; decision 0050
MIN_DROP_C = 0.3  # and by this much, °C; decision 0050
#: What the forward model leaves open (shape of the flow's edges, fill), s; decision 0050.
MODEL_SD_S = 0.010
CALM = 0.5  # the floor above is pessimistic where the fit is far better than it; decision 0050
#: A single pulse that misses by more than this share of the drop is tried as two; decision 0050.
UNEVEN_MISFIT = 0.012
ONSET_SLACK_S = 0.6  # the flow starts this near to the first fall of the shaft; decision 0013
ENTRY_POINTS = 100  # of the entry of the cold, per pulse
SHORTEST_S = 0.12  # no hand empties a syringe faster, s; decision 0050

# depth (°C) | log fill rate (bores per bolus) | log re-warming (s) | log lag (s) |
# edge share of the duration | log fill steepness | start (s) | log duration (s) |
# for two pulses: middle and width of the pause, share of the duration | share of the first pulse
_PRIOR_MEAN = np.array([
    0.0, np.log(7.0), np.log(2.0), np.log(0.15), 0.15, np.log(1.4), 0.0, np.log(0.6), 0.5, 0.2, 0.5
])  # fmt: skip
_PRIOR_SD = np.array([np.inf, 0.7, 0.7, 0.5, 0.05, 0.25, np.inf, 0.6, 0.25, 0.25, 0.2])
_LOWER = np.array([0.05, 0, np.log(0.3), np.log(0.03), 0.05, np.log(0.8), -5, -2.1, 0.25, 0, 0.1])
_UPPER = np.array([60, 4.5, np.log(20.0), np.log(0.8), 0.4, np.log(3.5), 60, 2.1, 0.75, 0.5, 0.9])
_SINGLE = 8
#: Behind them two of the baseline, °C: its level, and what is left of an earlier bolus, which
#: fades with the same re-warming; SDs by our choice, decision 0050.
_LEVEL_SD_C, _REST_SD_C = 0.05, 0.15
_NUDGE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """How the bore cools: bores per bolus, and between well mixed (1) and plug (large)."""

    bores: float
    steepness: float
    edge: float  # share of a push that is rise, and fall

    def coldness(self, passed: Samples) -> Samples:
        """Return how cold the tip is, 0..1, when this share of the injectate has passed."""
        return np.asarray(1.0 - np.exp(-((self.bores * passed) ** self.steepness)))


#: Where no shaft was seen.
USUAL_FILL = Fill(bores=float(np.exp(_PRIOR_MEAN[1])), steepness=float(np.exp(_PRIOR_MEAN[5])),
                  edge=float(_PRIOR_MEAN[4]))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftReading:
    """The injection as the shaft saw it; times in s from the recording's start."""

    start_s: float
    end_s: float
    zero_s: float
    zero_sd_s: float
    lag_s: float
    rewarm_s: float
    depth_c: float
    misfit: float  # rms residual, share of the deepest drop
    pulses: tuple[Pulse, ...]
    cold_late_s: float  # by how much the cold passes the tip later than the injectate does
    fill: Fill  # how the bore cools
    drop_c: Samples  # as measured, on the grid of the fit, NaN = lost
    fit_c: Samples


def shaft_prediction(parameters: Samples, bins: int) -> Samples:
    """Return the shaft's drop, shape (sets, bins), °C, for parameter rows (sets, 8 or 11).

    The bore's coldness c obeys dc/dt = f'(t) (depth - c) - c / re-warming with the fill hazard
    f = (rate * volume)^steepness: steepness 1 is a well-mixed bore, large is plug flow. Solved
    exactly for piecewise constant f'; the lag is exact for piecewise linear c.
    """
    p = np.atleast_2d(parameters)
    depth, log_rate, log_warm, log_lag, edge, log_steep, start, log_duration = (
        p[:, i : i + 1] for i in range(_SINGLE)
    )
    warm, lag = np.exp(log_warm), np.exp(log_lag)
    t = np.arange(bins + 1, dtype=np.float64) * STEP_S
    passed = np.zeros((p.shape[0], t.size))
    for begin, stop, share in _pulses_of(p, start, np.exp(log_duration)):
        passed = passed + share * _passed(t, begin, stop, edge)
    hazard = (np.exp(log_rate) * passed) ** np.exp(log_steep)
    rate = np.diff(hazard, axis=1) / STEP_S
    growth = np.exp(np.minimum(hazard + t / warm, 600.0))
    level = depth * rate / (rate + 1.0 / warm)
    zero = np.zeros_like(depth)
    cold = np.concatenate([zero, np.cumsum(level * np.diff(growth, axis=1), axis=1)], axis=1)
    cold = cold / growth
    keep = np.exp(-STEP_S / lag)
    last = 1.0 - (1.0 - keep) * lag / STEP_S
    drive = (1.0 - keep - last) * cold[:, :-1] + last * cold[:, 1:]
    seen = np.concatenate([zero, _first_order(drive, keep)], axis=1)
    middle: Samples = 0.5 * (seen[:, 1:] + seen[:, :-1])
    return middle


def _pulses_of(
    p: Samples, start: Samples, duration: Samples
) -> tuple[tuple[Samples, Samples, Samples], ...]:
    if p.shape[1] == _SINGLE:
        return ((start, start + duration, np.ones_like(start)),)
    middle, width, share = (p[:, i : i + 1] for i in (8, 9, 10))
    pause = start + duration * (middle - 0.5 * width)
    again = start + duration * np.minimum(middle + 0.5 * width, 0.9)
    pause = start + np.maximum(pause - start, 0.1 * duration)
    return (start, pause, share), (again, start + duration, 1.0 - share)


def _first_order(drive: Samples, keep: Samples) -> Samples:
    """Return y[k] = keep y[k-1] + drive[k] by blocks short enough not to overflow."""
    sets, n = drive.shape
    out = np.empty_like(drive)
    carry = np.zeros((sets, 1))
    block = 256
    for at in range(0, n, block):
        part = drive[:, at : at + block]
        power = keep ** np.arange(1, part.shape[1] + 1)
        out[:, at : at + block] = power * (carry + np.cumsum(part / power, axis=1))
        carry = out[:, at + part.shape[1] - 1 : at + part.shape[1]]
    return out


def _ramp(x: Samples) -> Samples:
    """Return the integral of a raised-cosine step that rises over 0..1."""
    inside = np.clip(x, 0.0, 1.0)
    return 0.5 * (inside - np.sin(np.pi * inside) / np.pi) + np.maximum(x - 1.0, 0.0)


def _passed(t: Samples, start: Samples, end: Samples, edge: Samples) -> Samples:
    """Return the share of the injectate that has passed: flow with raised-cosine edges."""
    duration = end - start
    width = edge * duration
    rise = _ramp((t - start) / width) - _ramp((t - (end - width)) / width)
    return np.maximum(rise * width / (duration - width), 0.0)


def read_shaft(drop_c: Samples, from_s: float, noise_c: float) -> ShaftReading | None:
    """Return the injection as the shaft saw it, or None where the shaft shows none.

    Parameters
    ----------
    drop_c : Samples
        Shape (n,), °C below the shaft's baseline, bins of ``STEP_S``, NaN = lost.
    from_s : float
        Left edge of the first bin, s.
    noise_c : float
        Noise SD of one bin, °C.
    """
    if not np.isfinite(drop_c).any():
        return None
    deepest = float(np.nanmax(drop_c))
    if deepest < max(MIN_DROP_C, MIN_DROP_NOISE * noise_c):
        return None
    filled = np.where(np.isfinite(drop_c), drop_c, -np.inf)
    onset = int(np.argmax(filled > 0.1 * deepest))
    near = np.flatnonzero(filled > 0.97 * deepest)
    last = int(near[near < near[0] + int(5.0 / STEP_S)][-1])
    bins = min(drop_c.size, last + int(REWARM_VIEW_S / STEP_S))
    y, good = np.where(np.isfinite(drop_c), drop_c, 0.0)[:bins], np.isfinite(drop_c[:bins])
    scale = float(np.hypot(noise_c, LEVEL_SHARE * deepest))
    begin = _PRIOR_MEAN.copy()
    begin[0], begin[6] = 1.05 * deepest, onset * STEP_S - 0.08
    tries = []
    for back_s in (0.1, 0.4):
        begin[7] = np.log(max(last * STEP_S - back_s - begin[6], 2.0 * SHORTEST_S))
        tries.append(_fit(y, good, scale, begin[:_SINGLE]))
        if tries[-1].cost < bins:
            break
    best = min(tries, key=lambda f: f.cost)
    if _misfit(best) * scale > UNEVEN_MISFIT * deepest:
        begin[7] = np.log(max(last * STEP_S - 0.1 - begin[6], 2.0 * SHORTEST_S))
        pause = _pause(y[onset : last + 1])
        for middle in (pause, 0.4, 0.6) if pause else (0.35, 0.5, 0.65):
            begin[8] = middle
            tries.append(_fit(y, good, scale, begin))
        best = min(tries, key=lambda f: f.cost)
    return _reading(best, from_s, scale, deepest, drop_c)


def _pause(body: Samples) -> float:
    """Return where between onset and last dip the shaft re-warms most, 0..1; 0 if nowhere."""
    if body.size < 10:
        return 0.0
    smooth = np.convolve(body, np.full(3, 1 / 3), "same")
    give = np.maximum.accumulate(smooth) - smooth
    at = int(np.argmax(give[2:-2])) + 2
    return at / body.size if give[at] > 0.02 * smooth.max() else 0.0


def _misfit(fit: Fit) -> float:
    return float(np.sqrt(np.mean(fit.residuals**2)))


def _fit(y: Samples, good: npt.NDArray[np.bool_], scale: float, begin: Samples) -> Fit:
    n = begin.size
    t = (np.arange(y.size, dtype=np.float64) + 0.5) * STEP_S
    nudges = _NUDGE * np.eye(n)[1:]

    def model(p: Samples, gradients: bool) -> tuple[Samples, Samples | None]:
        shape = p[:n]
        rows = np.vstack([shape, shape + nudges]) if gradients else shape[None]
        seen = shaft_prediction(rows, y.size)
        fading = np.exp(-t / np.exp(p[2]))
        residuals = np.where(good, (seen[0] + p[n] + p[n + 1] * fading - y) / scale, 0.0)
        if not gradients:
            return residuals, None
        slopes = (seen[1:] - seen[0]) / _NUDGE
        slopes[1] += p[n + 1] * fading * t / np.exp(p[2])
        by = np.vstack([seen[0] / p[0], slopes, np.ones_like(t), fading])
        return residuals, np.where(good, by / scale, 0.0)

    none, wide = np.zeros(2), np.array([_LEVEL_SD_C, _REST_SD_C])
    lower, upper = _LOWER[:n].copy(), _UPPER[:n].copy()
    lower[6], upper[6] = begin[6] - ONSET_SLACK_S, begin[6] + ONSET_SLACK_S
    prior = Prior(
        mean=np.append(_PRIOR_MEAN[:n], none), sd=np.append(_PRIOR_SD[:n], wide),
        lower=np.append(lower, -10.0 * wide), upper=np.append(upper, 10.0 * wide),
    )  # fmt: skip
    return fit_robustly(model, np.append(begin, none), prior)


def cold_entry(pulses: tuple[Pulse, ...], fill: Fill) -> tuple[Samples, Samples]:
    """Return when the cold enters the artery, s, and how much of it then, shape (m,) each.

    What leaves the tip first has been warmed by the bore: the passage is weighted with the bore's
    coldness, which fills with the volume passed as in ``shaft_prediction``; re-warming meanwhile
    is slow and left out.
    """
    u = (np.arange(ENTRY_POINTS, dtype=np.float64) + 0.5) / ENTRY_POINTS
    near = np.clip(np.minimum(u, 1.0 - u) / fill.edge, 0.0, 1.0)
    flow = 0.5 - 0.5 * np.cos(np.pi * near)
    flow /= flow.sum()
    gone = np.cumsum(flow) - 0.5 * flow
    times, weights, passed = [], [], 0.0
    for start, end, part in pulses:
        times.append(start + (end - start) * u)
        weights.append(part * flow * fill.coldness(passed + part * gone))
        passed += part
    return np.concatenate(times), np.concatenate(weights)


def cold_delay_s(pulses: tuple[Pulse, ...], fill: Fill) -> float:
    """Return by how much the mean passage of cold lies behind that of the injectate, s."""
    t, weight = cold_entry(pulses, fill)
    middle = sum(share * 0.5 * (a + b) for a, b, share in pulses)
    return float(t @ weight / weight.sum()) - middle


def _reading(
    fit: Fit, from_s: float, scale: float, deepest: float, drop_c: Samples
) -> ShaftReading:
    p, c = fit.parameters[:-2], fit.covariance
    row, duration = p[None], float(np.exp(p[7]))
    pulses = tuple(
        (from_s + float(a[0, 0]), from_s + float(b[0, 0]), float(share[0, 0]))
        for a, b, share in _pulses_of(row, row[:, 6:7], np.exp(row[:, 7:8]))
    )
    fill = Fill(bores=float(np.exp(p[1])), steepness=float(np.exp(p[5])), edge=float(p[4]))
    zero = sum(share * 0.5 * (a + b) for a, b, share in pulses)
    arm = np.zeros(c.shape[0])
    arm[6], arm[7] = 1.0, 0.5 * duration
    spread = _misfit(fit)
    uneven = 0.05 * duration if len(pulses) > 1 else 0.0
    formal = max(CALM, spread) * float(np.sqrt(max(float(arm @ c @ arm), 0.0)))
    formal = min(formal, 0.5 * duration)  # it lies within the injection
    return ShaftReading(
        start_s=pulses[0][0], end_s=pulses[-1][1], zero_s=zero,
        zero_sd_s=float(np.sqrt(MODEL_SD_S**2 + formal**2 + uneven**2)),
        lag_s=float(np.exp(p[3])), rewarm_s=float(np.exp(p[2])), depth_c=float(p[0]),
        misfit=spread * scale / deepest, pulses=pulses, drop_c=drop_c,
        cold_late_s=cold_delay_s(pulses, fill), fill=fill,
        fit_c=shaft_prediction(p, drop_c.size)[0],
    )  # fmt: skip
