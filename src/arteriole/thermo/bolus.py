"""One bolus read: time zero, curve, centroid, and the numbers a verdict rests on.

Tmn = mean passage at the sensor - mean passage of the injectate at the catheter tip; by the
indicator-dilution theorem that is volume over flow between the two, whatever the shapes
[Meier1954]. The sensor's own lag is left in.
"""

from dataclasses import replace

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.recording.settings import Settings
from arteriole.thermo import shaft as shaft_room
from arteriole.thermo import wash as wash_room
from arteriole.thermo.bins import bin_means, local_noise
from arteriole.thermo.curve import BolusReading, TransitCurve
from arteriole.thermo.density import TWO_PATHS
from arteriole.thermo.passage import Passage
from arteriole.thermo.pressure_mark import PressureMark, read_pressure_mark
from arteriole.thermo.shaft import ShaftReading, read_shaft
from arteriole.thermo.wash import Wash, fit_wash
from arteriole.thermo.zero import LENGTH_SEEN, Zero, push_beside, push_near, time_zero

BEFORE_S = 2.6  # view before the approximate injection, s; decision 0051
AFTER_S = 13.0  # view after it, s: four wall time constants; decision 0051
NEXT_GAP_S = 0.5  # the view ends this long before the next injection, whose time is approximate
SLACK_S = 1.2  # the approximate time may be off by this much, s
MIN_PEAK_C = 0.15  # a smaller drop is not a bolus; decision 0053
MIN_PEAK_NOISE = 6.0  # nor one below this many noise SD; five is common practice; decision 0053
FAMILIES_READ = ("lagged normal", "gamma variate", "local density random walk")
AGREED = 0.01  # of Tmn: where two families agree so far, a third adds nothing; decision 0013
#: Where none of these comes nearer than this to the body of the curve, two paths are tried too.
UNEVEN_TRIED = 0.06  # share of the local drop; our choice, decision 0013
QUANTUM_FLOOR_C = 1e-3
#: Parting tail and wall, share of a Tmn of 1 s or more (a shorter one has given the wall less); and
#: what an uneven curve adds, per share of unevenness; from simulated curves, design/estimators.md;
#: decisions 0052 and 0058.
TAIL_SD, UNEVEN_SD = 0.015, 0.15
#: Delay of the cold behind the injectate: how well it is known, share; decision 0047.
LATE_SD_SHAFT, LATE_SD_UNSEEN = 0.3, 0.5
#: Of the variance of an injection the curve itself must place, what comes from the usual spread of
#: transits and so is common to all curves of a vessel; decision 0047.
PLACING_SHARE = 0.25
#: A coldest value that stays the very same for this long is the end of the scale, s; 0013.
CLIPPED_S = 0.25
MIN_PRESENT = 0.4  # of the bins after the injection; fewer are no curve; decision 0053
NOISE_CAP = 0.10  # a moment is never worse than this where a curve was read; decision 0052


def read_bolus(
    *,
    temp_c: Samples,
    shaft_c: Samples | None,
    pa_mmhg: Samples | None,
    pd_mmhg: Samples | None,
    rate_hz: float,
    start_s: float,
    injection_s: float,
    next_injection_s: float | None,
    settings: Settings,
    zero_s: float | None = None,
) -> BolusReading:
    """Return the reading of the injection near ``injection_s``.

    Parameters
    ----------
    temp_c, shaft_c, pa_mmhg, pd_mmhg : Samples
        Shape (n,), °C and mmHg, NaN = lost, on one grid; the whole recording or a slice of it.
    rate_hz : float
        Samples per second.
    start_s : float
        Time of the first sample, s from the recording's start.
    injection_s : float
        Approximate start of the injection, s, right to about 1 s.
    next_injection_s : float | None
        Approximate start of the next one; the curve is cut before it.
    settings : Settings
        Carried for the reading's identity; its limits act on the set, not on one curve.
    zero_s : float | None
        A marked time zero, s; overrides what is found.

    Returns
    -------
    BolusReading
        ``tmn_s`` None with ``faults`` where no curve can be read; never raises for poor signal.
    """  # fmt: skip
    del settings  # their limits act on the set
    temp_c = np.asarray(temp_c, dtype=np.float64)
    grid_end = start_s + (temp_c.size - 1) / rate_hz
    from_s = max(injection_s - BEFORE_S, start_s)
    to_s = min(injection_s + AFTER_S, grid_end)
    if next_injection_s is not None:
        to_s = min(to_s, next_injection_s - NEXT_GAP_S)
    bins = int((to_s - from_s) / wash_room.STEP_S)
    if bins * wash_room.STEP_S < BEFORE_S:
        return _unreadable(injection_s, to_s, "too_short")

    def bins_of(values: Samples, step_s: float) -> Samples:
        n = int((to_s - from_s) / step_s)
        return bin_means(values, rate_hz, start_s=start_s, from_s=from_s, step_s=step_s, bins=n)

    shaft = _shaft(bins_of(shaft_c, shaft_room.STEP_S), from_s, injection_s) if (
        shaft_c is not None) else None  # fmt: skip
    mark = None
    if pa_mmhg is not None:
        mark = read_pressure_mark(
            pa_mmhg, rate_hz, start_s=start_s, from_s=from_s,
            to_s=min(injection_s + 6.0, to_s), near_s=injection_s,
        )  # fmt: skip
    temp_c, clipped_s = _unclipped(temp_c, slice(
        max(int((from_s - start_s) * rate_hz), 0), int((to_s - start_s) * rate_hz) + 1
    ), rate_hz)  # fmt: skip
    raw = bins_of(temp_c, wash_room.STEP_S)
    t = from_s + (np.arange(bins, dtype=np.float64) + 0.5) * wash_room.STEP_S
    quiet_to = _quiet_end(shaft, mark, injection_s)
    base, slope, noise = _baseline(raw, t, quiet_to)
    drop = base - raw
    features: dict[str, float] = {
        "noise_c": noise, "baseline_slope_c_s": slope, "missing": float(np.isnan(raw).mean()),
        "clipped_s": clipped_s,
    }  # fmt: skip
    if pa_mmhg is not None:
        k = slice(*(max(int((s - start_s) * rate_hz), 0) for s in (from_s, quiet_to - 1.0)))
        features["pa_missing_before"] = float(np.isnan(pa_mmhg[k]).mean()) if (
            pa_mmhg[k].size) else 0.0  # fmt: skip
    after = t > quiet_to
    if not after.any() or np.isfinite(drop[after]).mean() < MIN_PRESENT:
        return _unreadable(injection_s, to_s, "lost", features)
    there = np.isfinite(drop)
    bridged = np.interp(t, t[there], drop[there]) if there.any() else np.zeros(t.size)
    smooth = np.convolve(bridged, np.full(3, 1 / 3), "same")
    peak_at = int(np.argmax(np.where(after, smooth, -np.inf)))
    peak = float(smooth[peak_at])
    features["peak_drop_c"] = peak
    if peak < max(MIN_PEAK_C, MIN_PEAK_NOISE * noise):
        return _unreadable(injection_s, to_s, "small", features)
    push = None
    if pd_mmhg is not None and shaft is None and zero_s is None:
        push = push_near(
            pd_mmhg, rate_hz, start_s=start_s, mark=mark, t=t, smooth=smooth, peak_at=peak_at
        )
    elif pd_mmhg is not None and shaft is not None and len(shaft.pulses) == 1:
        beside = push_beside(pd_mmhg, rate_hz, start_s=start_s, shaft=shaft)
        if beside is not None:
            features["push_late_s"] = beside.middle_s - shaft.zero_s
    zero = time_zero(shaft, mark, push, zero_s, t, smooth, peak_at)
    washes = _washes(drop, noise, zero, from_s)
    return _reading(
        injection_s=injection_s, zero=zero, washes=washes, drop=drop, t=t, end_s=to_s, peak=peak,
        peak_at=peak_at, smooth=smooth, shaft=shaft, mark=mark, features=features, from_s=from_s,
    )  # fmt: skip


def _unclipped(temp_c: Samples, view: slice, rate_hz: float) -> tuple[Samples, float]:
    """Return the temperature without what lies at the cold end of the scale, and for how long, s.

    Clipped samples are taken as lost: the fit carries the curve over them by its shape.
    """
    part = temp_c[view]
    if not np.isfinite(part).any():
        return temp_c, 0.0
    at_end = part <= np.nanmin(part)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], at_end.astype(np.int8), [0]])))
    longest = float((edges[1::2] - edges[::2]).max()) / rate_hz
    if longest < CLIPPED_S:
        return temp_c, 0.0
    cleared = temp_c.copy()
    cleared[view] = np.where(at_end, np.nan, part)
    return cleared, longest


def _unreadable(
    injection_s: float, end_s: float, fault: str, features: dict[str, float] | None = None
) -> BolusReading:
    return BolusReading(
        time_s=injection_s, end_s=end_s, zero_s=None, time_zero="arrival", tmn_s=None,
        tmn_onset_s=None, features=features or {}, faults=(fault,),
    )  # fmt: skip


def _shaft(raw: Samples, from_s: float, injection_s: float) -> ShaftReading | None:
    before = raw[: max(int((injection_s - SLACK_S - from_s) / shaft_room.STEP_S), 10)]
    if not np.isfinite(before).any():
        return None
    noise = max(local_noise(before), QUANTUM_FLOOR_C)
    return read_shaft(float(np.nanmedian(before)) - raw, from_s, noise)


def _quiet_end(shaft: ShaftReading | None, mark: PressureMark | None, injection_s: float) -> float:
    if shaft is not None:
        return shaft.start_s
    if mark is not None and mark.kind == "spike":
        return mark.start_s
    return injection_s - SLACK_S


def _baseline(raw: Samples, t: Samples, quiet_to: float) -> tuple[float, float, float]:
    """Return level at the end of the quiet stretch, slope (°C/s) and noise SD of a bin."""
    quiet = (t < quiet_to) & np.isfinite(raw)
    if quiet.sum() < 5:
        quiet = np.isfinite(raw) & (np.arange(raw.size) < 10)
    if quiet.sum() < 2:
        return float(np.nanmedian(raw)) if np.isfinite(raw).any() else 0.0, 0.0, QUANTUM_FLOOR_C
    noise = max(local_noise(raw[quiet]), QUANTUM_FLOOR_C)
    slope = float(np.polyfit(t[quiet], raw[quiet], 1)[0]) if quiet.sum() > 10 else 0.0
    return float(np.median(raw[quiet])), slope, noise


def _washes(drop: Samples, noise: float, zero: Zero, from_s: float) -> list[Wash]:
    """Return the fits of all families, each started from the first."""
    injection = replace(
        zero.injection,
        pulses=tuple((a - from_s, b - from_s, share) for a, b, share in zero.injection.pulses),
    )
    washes: list[Wash] = []
    for family in FAMILIES_READ:
        if len(washes) == 2 and _agree(*washes):
            break
        begin = washes[0].fit.parameters if washes else None
        washes.append(fit_wash(drop, noise, injection=injection, family=family, begin=begin))
    if min(w.unevenness for w in washes) > UNEVEN_TRIED and not injection.free:
        washes += [
            fit_wash(drop, noise, injection=injection, family=family) for family in TWO_PATHS
        ]
        if min(w.unevenness for w in washes) > UNEVEN_TRIED:  # neither found its way: start anew
            washes.append(
                fit_wash(drop, noise, injection=injection, family=washes[-1].family,
                         begin=washes[-2].fit.parameters)
            )  # fmt: skip
    return washes


def _agree(one: Wash, other: Wash) -> bool:
    tmn = one.moment_s - one.zero_s
    return abs(other.moment_s - other.zero_s - tmn) < AGREED * tmn


def _reading(
    *, injection_s: float, zero: Zero, washes: list[Wash], drop: Samples, t: Samples, end_s: float,
    peak: float, peak_at: int, smooth: Samples, shaft: ShaftReading | None,
    mark: PressureMark | None, features: dict[str, float], from_s: float,
) -> BolusReading:  # fmt: skip
    transits = np.array([w.moment_s - w.zero_s for w in washes])
    costs = np.array([w.fit.cost for w in washes])
    weights = np.exp(-0.5 * np.minimum((costs - costs.min()) / max(0.05 * costs.min(), 1.0), 60.0))
    weights /= weights.sum()
    tmn = float(weights @ transits)
    zero_s = from_s + float(weights @ np.array([w.zero_s for w in washes]))
    between = float(np.sqrt(weights @ (transits - tmn) ** 2))
    best = washes[int(np.argmin(costs))]
    q = best.fit.parameters
    features |= {
        "rise_s": _rise(t, smooth, peak, peak_at),
        "injection_s": zero.injection.duration_s if zero.length_seen else float("nan"),
        "push_rise_mmhg": zero.push.rise_mmhg if zero.push else float("nan"),
        "humps": float(_humps(smooth, peak)),
        "fit_error": best.misfit,
        "unevenness": best.unevenness,
        "area_c_s": float(q[wash_room.AREA]),
        "dispersion": float(np.exp(q[wash_room.LOG_SD])) / max(float(q[wash_room.MEAN]), 1e-3),
        "wall_share": float(q[wash_room.UPTAKE] * q[wash_room.MEAN]),
        "wall_s": float(np.exp(q[wash_room.LOG_WALL])),
        "baseline_offset_c": float(best.base_c[-1] - best.base_c[0]),
    }  # fmt: skip
    if zero.injection.free:
        stretch = float(np.exp(q[wash_room.STRETCH]))
        features["injection_fit_s"] = zero.injection.duration_s * stretch
    elif zero.push is not None and zero.push.log_duration_sd < LENGTH_SEEN:
        features["injection_fit_s"] = zero.push.duration_s
    if mark is not None and mark.kind == "lost":
        features["pa_lost_s"] = mark.lost_s
    features["open_tail"] = float(
        np.mean(best.bolus_c[-5:]) > 0.2 * best.bolus_c.max() or t[-1] - t[peak_at] < 1.0
    )
    if shaft is not None:
        features |= {
            "cold_late_s": shaft.cold_late_s, "cold_late_sd_s": LATE_SD_SHAFT * shaft.cold_late_s,
            "shaft_misfit": shaft.misfit, "shaft_lag_s": shaft.lag_s,
            "shaft_rewarm_s": shaft.rewarm_s, "shaft_pulses": float(len(shaft.pulses)),
        }  # fmt: skip
    else:
        late = shaft_room.cold_delay_s(zero.injection.pulses, shaft_room.USUAL_FILL)
        features |= {"cold_late_s": late, "cold_late_sd_s": LATE_SD_UNSEEN * late}
    features = {k: v for k, v in features.items() if np.isfinite(v)}
    start_s = zero.injection.pulses[0][0] + zero_s - zero.injection.middle_s
    if not zero.injection.free and abs(start_s - injection_s) > SLACK_S:
        start_s = injection_s  # the shaft's fit took the one before with it
    if tmn <= 0.0:
        return _unreadable(start_s, end_s, "zero_unclear", features)
    above = np.flatnonzero(best.bolus_c >= 0.2 * peak)
    tail_from = float(t[min(above[-1] + 1, t.size - 1)]) if above.size else float(t[-1])
    step = wash_room.STEP_S
    features["tail_share"] = float(
        best.bolus_c[t >= tail_from].sum() * step / max(best.bolus_c.sum() * step, 1e-9)
    )
    noise = min(best.transit_sd_s, NOISE_CAP * tmn)
    sd = {"time zero": zero.sd_s, "noise": noise, "model": between}
    if zero.injection.free:  # the fit placed the injection: its SD holds time zero and noise
        placing = PLACING_SHARE * best.transit_sd_s**2
        sd = {
            "time zero": float(np.sqrt(best.transit_sd_s**2 - placing)),
            "placing": float(np.sqrt(placing)), "model": between,
        }  # fmt: skip
    elif shaft is not None and zero.source == "shaft":
        sd |= {"fill": min(shaft_room.MODEL_SD_S, zero.sd_s)}
        sd["time zero"] = float(np.sqrt(zero.sd_s**2 - sd["fill"] ** 2))
    sd |= {"tail": TAIL_SD * tmn * min(tmn, 1.0), "shape": UNEVEN_SD * best.unevenness * tmn}
    return BolusReading(
        time_s=start_s, end_s=end_s, zero_s=zero_s, time_zero=zero.source,
        tmn_s=tmn, tmn_onset_s=tmn + zero_s - start_s, sd_s=sd,
        features=features, model=best.family, passage=_passage(best, shaft, t, from_s),
        curve=TransitCurve(
            t_s=t, drop_c=drop - best.base_c, fit_c=best.bolus_c, slow_c=best.slow_c,
            tail_from_s=tail_from,
            shaft_drop_c=None if shaft is None else _on_grid(shaft, t, from_s),
        ),
    )  # fmt: skip


def _passage(best: Wash, shaft: ShaftReading | None, t: Samples, from_s: float) -> Passage:
    fill = shaft_room.USUAL_FILL if shaft is None else shaft.fill
    entry, weight = shaft_room.cold_entry(best.injection, fill)
    return Passage(
        entry_s=entry + from_s, entry_weight=weight, t_s=t, left_c=np.maximum(best.left_c, 0.0)
    )


def _on_grid(shaft: ShaftReading, t: Samples, from_s: float) -> Samples:
    """Return the measured shaft drop at the curve's times, gaps bridged by its fit, °C."""
    at = from_s + (np.arange(shaft.drop_c.size) + 0.5) * shaft_room.STEP_S
    measured = np.where(np.isfinite(shaft.drop_c), shaft.drop_c, shaft.fit_c)
    return np.asarray(np.interp(t, at, measured))


def _rise(t: Samples, smooth: Samples, peak: float, peak_at: int) -> float:
    """Return the time from 10 % to 90 % of the peak, s."""
    low = np.flatnonzero(smooth[: peak_at + 1] < 0.1 * peak)
    high = np.flatnonzero(smooth[: peak_at + 1] < 0.9 * peak)
    return float(t[high[-1]] - t[low[-1]]) if low.size and high.size else 0.0


def _humps(smooth: Samples, peak: float) -> int:
    """Return the number of maxima above a quarter of the peak parted by a dip of a tenth."""
    count, high, low, climbing = 0, -np.inf, np.inf, True
    for value in smooth:
        if climbing:
            high = max(high, value)
            if high > 0.25 * peak and value < high - 0.1 * peak:
                count, climbing, low = count + 1, False, value
        else:
            low = min(low, value)
            if value > low + 0.1 * peak:
                climbing, high = True, value
    return max(count, 1)
