"""Which estimator of a bolus's mean passage? 2 400 curves of a small generator made for this only.

    python design/estimators.py > design/estimators.md

The generator carries the bolus in volume, not in time: inlet concentration against cumulative
volume, spread by a first-passage density of the vessel, read back in time through a pulsing flow,
then the sensor's lag. A wall stores part of the cold: in half of the curves all along the way (what
has been longer in the vessel has lost more), in half at the sensor alone (one share for all). In
one curve of eight part of the flow takes a slower path. It shares no code with the fits or with the
virtual patient. All estimators are given the true injection, so only the curve is judged.
"""

import sys
import time

import numpy as np

from arteriole.thermo import wash
from arteriole.thermo.bins import bin_means, local_noise
from arteriole.thermo.bolus import UNEVEN_TRIED
from arteriole.thermo.density import TWO_PATHS
from arteriole.thermo.inlet import Injection

CURVES = int(sys.argv[1]) if len(sys.argv) > 1 else 2400
SEED = 20251
FINE_HZ = 1000.0
BEFORE_S, AFTER_S = 2.6, 12.0
GROUPS = 16  # classes of stay in the vessel, for a wall along the way
BAD = 0.20  # an error beyond this share counts as a failure
FAMILIES = ("lagged normal", "local density random walk", "gamma variate", "inverse gaussian")


def first_order(x, tau_s, step_s):
    keep = np.exp(-step_s / tau_s)
    y = np.empty_like(x)
    level = 0.0
    for k, value in enumerate(x):
        level = keep * level + (1.0 - keep) * value
        y[k] = level
    return y


def make(rng):
    """One curve: samples, rate, true mean passage, injection, state, start, what is special."""
    fine = 1.0 / FINE_HZ
    t = np.arange(-BEFORE_S, AFTER_S, fine)
    hyper = rng.random() < 0.5
    volume_ml = rng.uniform(0.7, 1.4)
    flow = volume_ml / (rng.uniform(0.15, 0.45) if hyper else rng.uniform(0.5, 1.5))
    beat_s = 60.0 / rng.uniform(50.0, 120.0)
    depth = rng.uniform(0.1, 0.95)
    phase = 2.0 * np.pi * (t / beat_s + rng.random())
    pulse = 1.0 + depth * (np.cos(phase) + 0.35 * np.cos(2.0 * phase + 0.8))
    q = flow * np.maximum(pulse, 0.08)
    length = float(np.exp(rng.normal(np.log(0.6), 0.25)))
    edge = rng.uniform(0.08, 0.25) * length
    up = 0.5 - 0.5 * np.cos(np.pi * np.clip(t / edge, 0.0, 1.0))
    down = 0.5 - 0.5 * np.cos(np.pi * np.clip((length - t) / edge, 0.0, 1.0))
    inject = up * down * (1.0 + rng.normal(0.0, 0.15) * (t / length - 0.5))
    inject = np.maximum(np.where((t < 0) | (t > length), 0.0, inject), 0.0)
    rate = 3.0 * inject / (inject.sum() * fine)
    cold = rate / (rate + 0.6 * q)
    passed = np.cumsum(q) * fine
    grid = np.arange(0.0, passed[-1], volume_ml / 400.0)
    inlet = np.interp(grid, passed, cold)
    spread = rng.uniform(0.15, 0.5)
    shape = 1.0 / spread**2
    lags = np.arange(1, 2400) * volume_ml / 400.0
    spreading = np.sqrt(shape * volume_ml / (2 * np.pi * lags**3)) * np.exp(
        -shape * (lags - volume_ml) ** 2 / (2.0 * volume_ml * lags)
    )
    spreading /= spreading.sum()
    two = rng.random() < 0.125
    if two:
        part, slower = rng.uniform(0.25, 0.5), rng.uniform(2.0, 4.5)
        mix = 1.0 + part * (slower - 1.0)
        spreading = (1.0 - part) * mix * np.interp(lags * mix, lags, spreading, right=0.0) + (
            part * mix / slower * np.interp(lags * mix / slower, lags, spreading, right=0.0)
        )
        spreading /= spreading.sum()
    along, slow_s = rng.random() < 0.5, rng.uniform(1.2, 4.0)
    uptake, share = rng.uniform(0.0, 0.5), rng.uniform(0.0, 0.2)
    n = 1 << int(np.ceil(np.log2(grid.size + lags.size)))
    wide = 1 << int(np.ceil(np.log2(2 * t.size)))
    p = 2j * np.pi * np.fft.rfftfreq(wide, fine)
    at_sensor, walled = np.zeros(t.size), np.zeros(wide // 2 + 1, dtype=complex)
    edges = np.searchsorted(np.cumsum(spreading), np.linspace(0.0, 1.0, GROUPS + 1)[1:-1])
    for group in np.split(np.arange(spreading.size), edges):
        if group.size == 0:
            continue
        kernel = np.zeros(spreading.size)
        kernel[group] = spreading[group]
        out = np.fft.irfft(np.fft.rfft(inlet, n) * np.fft.rfft(kernel, n), n)[: grid.size]
        one = np.interp(passed, grid, np.concatenate([[0.0], out[:-1]]))
        at_sensor += one
        stay = float((kernel @ lags) / kernel.sum() / flow) if along else 0.0
        walled += np.fft.rfft(one, wide) * np.exp(-uptake * stay * p * slow_s / (1.0 + p * slow_s))
    lag_s = rng.uniform(0.05, 0.25)
    seen = first_order(at_sensor, lag_s, fine)
    true = float((t * seen).sum() / seen.sum())
    drop = first_order(np.fft.irfft(walled, wide)[: t.size], lag_s, fine)
    if not along:
        drop = (1 - share) * drop + share * first_order(drop, slow_s, fine)
    drop = rng.uniform(2.0, 7.0) * drop
    middle = float((t * inject).sum() / inject.sum())
    every = int(rng.choice([1, 2, 4, 5, 10]))
    samples = drop[every // 2 :: every]
    noise = float(10.0 ** rng.uniform(-2.3, -1.0))
    samples = samples + rng.normal(0.0, noise, samples.size)
    samples = samples + rng.normal(0.0, 0.003) * np.arange(samples.size) * every * fine
    if rng.random() < 0.5:
        samples = np.round(samples / 0.02) * 0.02
    start = every // 2 * fine - BEFORE_S
    wall = "two paths" if two else "along the way" if along else "at the sensor"
    return samples, FINE_HZ / every, true, middle, length, hyper, start, wall


def cut_moment(drop, t):
    """The plain way: from onset to a quarter of the peak, one exponential beyond."""
    smooth = np.convolve(drop, np.full(3, 1 / 3), "same")
    top = int(np.argmax(smooth))
    left = np.flatnonzero(smooth[:top] < 0.01 * smooth[top])
    a = int(left[-1]) if left.size else 0
    after = np.flatnonzero(smooth[top:] < 0.8 * smooth[top]) + top
    low = np.flatnonzero(smooth[top:] < 0.25 * smooth[top]) + top
    if not low.size or low[0] - after[0] < 3:
        return np.nan
    b = int(low[0])
    slope, level = np.polyfit(t[after[0] : b], np.log(smooth[after[0] : b]), 1)
    if slope >= 0.0:
        return np.nan
    tau, last = -1.0 / slope, float(np.exp(level + slope * t[b]))
    step = t[1] - t[0]
    area, tail = drop[a:b].sum() * step, last * tau
    return ((t[a:b] * drop[a:b]).sum() * step + tail * (t[b] + tau)) / (area + tail)


def main():
    rng = np.random.default_rng(SEED)
    rows = {}
    spent = {}
    gap, by_wall = [], {}
    for _ in range(CURVES):
        samples, rate, true, middle, length, hyper, start, wall = make(rng)
        bins = int((BEFORE_S + AFTER_S) / wash.STEP_S) - 1
        raw = bin_means(
            samples, rate, start_s=start, from_s=-BEFORE_S, step_s=wash.STEP_S, bins=bins
        )
        quiet = raw[: int((BEFORE_S - 0.1) / wash.STEP_S)]
        drop, noise = raw - np.median(quiet), max(local_noise(quiet), 1e-3)
        t = (np.arange(bins) + 0.5) * wash.STEP_S
        goal = true + BEFORE_S
        seen = Injection(
            pulses=((BEFORE_S + middle - length / 2, BEFORE_S + middle + length / 2, 1.0),)
        )

        def note(name, value, goal=goal, middle=middle, hyper=hyper):
            tmn = goal - BEFORE_S - middle
            rows.setdefault((name, hyper), []).append((value - goal) / tmn)

        began = time.perf_counter()
        note("plain moment, tail from 25 %", cut_moment(drop, t))
        spent["plain moment, tail from 25 %"] = (
            spent.get("plain moment, tail from 25 %", 0.0) + time.perf_counter() - began
        )
        fits = {}
        for family in FAMILIES:
            began = time.perf_counter()
            first = wash.fit_wash(drop, noise, injection=seen, family=family)
            took = time.perf_counter() - began
            fits[family] = first
            q = first.fit.parameters
            fitted = (
                seen.middle_s
                + q[wash.MEAN]
                + np.exp(q[wash.LOG_LAG])
                + 0.85 * length / 6.0 * q[wash.TILT]
            )
            note(f"{family}, fit alone", fitted)
            note(f"{family}, body measured", first.moment_s)
            spent[f"{family}, body measured"] = spent.get(f"{family}, body measured", 0.0) + took
        moments = {f: w.moment_s for f, w in fits.items()}
        note("least cost, body measured", moments[min(fits, key=lambda f: fits[f].fit.cost)])
        three = FAMILIES[:3]
        cost = np.array([fits[f].fit.cost for f in three])
        weight = np.exp(-0.5 * (cost - cost.min()) / max(0.05 * cost.min(), 1.0))
        value = np.array([moments[f] for f in three])
        note("weighted mean of three", float(weight @ value / weight.sum()))
        note("plain mean of three", float(value.mean()))
        note("plain mean of four", float(np.mean(list(moments.values()))))
        note("median of four", float(np.median(list(moments.values()))))
        if min(fits[f].unevenness for f in three) > UNEVEN_TRIED:
            for family in TWO_PATHS:
                fits[family] = wash.fit_wash(drop, noise, injection=seen, family=family)
        cost = np.array([w.fit.cost for w in fits.values()])
        weight = np.exp(-0.5 * (cost - cost.min()) / max(0.05 * cost.min(), 1.0))
        value = np.array([w.moment_s for w in fits.values()])
        chosen = float(weight @ value / weight.sum())
        note("weighted, two paths where uneven", chosen)
        by_wall.setdefault(wall, []).append((chosen - goal) / (goal - BEFORE_S - middle))
        gap.append(
            (
                hyper,
                float(np.mean(list(moments.values())) - goal),
                fits[three[0]].unevenness,
                goal - BEFORE_S - middle,
                true,
            )
        )
    print("# Estimators of the mean passage at the sensor\n")
    print(
        f"{CURVES} curves, seed {SEED}; generator in `design/estimators.py`; given the true "
        "injection.\nErrors in % of Tmn. Failure: no value, or more than 20 % off.\n"
    )
    print(
        "| estimator | rest bias | rest SD | rest fail | hyper bias | hyper SD | hyper fail "
        "| ms |\n|---|---|---|---|---|---|---|---|"
    )
    for name in dict.fromkeys(key[0] for key in rows):
        cells = []
        for hyper in (False, True):
            e = np.array(rows[name, hyper])
            bad = ~(np.abs(e) < BAD)
            cells += [
                f"{100 * e[~bad].mean():+.1f}",
                f"{100 * e[~bad].std():.1f}",
                f"{100 * bad.mean():.1f}",
            ]
        ms = f"{1000 * spent[name] / CURVES:.1f}" if name in spent else ""
        print(f"| {name} | " + " | ".join(cells) + f" | {ms} |")
    print(
        "\nThe last row against what the vessel does:\n\n"
        "| vessel | n | bias % | SD % | more than 20 % off |\n|---|---|---|---|---|"
    )
    for wall, found in sorted(by_wall.items()):
        e = np.array(found)
        bad = ~(np.abs(e) < BAD)
        print(
            f"| wall {wall} | {e.size} | {100 * e[~bad].mean():+.1f} | {100 * e[~bad].std():.1f} "
            f"| {bad.sum()} |".replace("wall two paths", "two paths, wall either way")
        )
    table = np.array(gap)
    print(
        "\nMean of four against unevenness of the curve (rms residual in the body over the local "
        "drop):\n\n| unevenness | n | bias % | SD % |\n|---|---|---|---|"
    )
    for a, b in ((0.0, 0.02), (0.02, 0.05), (0.05, 0.1), (0.1, 0.2), (0.2, 1.0)):
        here = (table[:, 2] >= a) & (table[:, 2] < b)
        e = table[here, 1] / table[here, 3]
        if here.sum() > 5:
            print(
                f"| {a:.2f}-{b:.2f} | {here.sum()} | {100 * e.mean():+.1f} | {100 * e.std():.1f} |"
            )


if __name__ == "__main__":
    main()
