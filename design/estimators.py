"""Which estimator of a bolus's mean passage? 2 400 curves of a small generator made for this only.

    python design/estimators.py > design/estimators.md

The generator carries the bolus in volume, not in time: inlet concentration against cumulative
volume, spread by a first-passage density of the vessel, read back in time through a pulsing flow,
then the sensor's lag and a wall that stores part of the cold. It shares no code with the fits or
with the virtual patient. All estimators are given the true injection, so only the curve is judged.
"""

import time

import numpy as np

from arteriole.thermo import wash
from arteriole.thermo.bins import bin_means, local_noise
from arteriole.thermo.inlet import Injection

CURVES = 2400
SEED = 20251
FINE_HZ = 1000.0
BEFORE_S, AFTER_S = 2.6, 12.0
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
    """One curve: samples, rate, true mean passage after the injection's middle, injection."""
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
    n = 1 << int(np.ceil(np.log2(grid.size + lags.size)))
    out = np.fft.irfft(np.fft.rfft(inlet, n) * np.fft.rfft(spreading, n), n)[: grid.size]
    at_sensor = np.interp(passed, grid, np.concatenate([[0.0], out[:-1]]))
    lag_s = rng.uniform(0.05, 0.25)
    seen = first_order(at_sensor, lag_s, fine)
    true = float((t * seen).sum() / seen.sum())
    share, slow_s = rng.uniform(0.0, 0.2), rng.uniform(1.2, 4.0)
    drop = rng.uniform(2.0, 7.0) * ((1 - share) * seen + share * first_order(seen, slow_s, fine))
    middle = float((t * inject).sum() / inject.sum())
    every = int(rng.choice([1, 2, 4, 5, 10]))
    samples = drop[every // 2 :: every]
    noise = float(10.0 ** rng.uniform(-2.3, -1.0))
    samples = samples + rng.normal(0.0, noise, samples.size)
    samples = samples + rng.normal(0.0, 0.003) * np.arange(samples.size) * every * fine
    if rng.random() < 0.5:
        samples = np.round(samples / 0.02) * 0.02
    return samples, FINE_HZ / every, true, middle, length, hyper, every // 2 * fine - BEFORE_S


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
    gap = []
    for _ in range(CURVES):
        samples, rate, true, middle, length, hyper, start = make(rng)
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
