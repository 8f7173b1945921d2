"""The chain fitted to one drop."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arteriole.thermo import wash
from arteriole.thermo.bins import bin_means, local_noise
from arteriole.thermo.inlet import Injection
from arteriole.thermo.wash import fit_wash
from thermo.chains import gamma_density

T = (np.arange(360) + 0.5) * wash.STEP_S


def pulse(a: float, b: float) -> Injection:
    return Injection(pulses=((a, b, 1.0),))


def textbook(a: float, b_s: float, t0: float = 2.0) -> np.ndarray:
    """(t-t0)^a exp(-(t-t0)/b) at 200 samples/s."""
    x = np.maximum(np.arange(2880) / 200.0 - t0, 0.0)
    return x**a * np.exp(-x / b_s)


@pytest.mark.parametrize(("a", "b_s"), [(3.0, 0.08), (3.0, 0.25), (5.0, 0.15), (2.0, 0.4)])
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_textbook_curve_gives_its_transit_time_and_area(a: float, b_s: float, noise: float) -> None:
    # C = (t-t0)^a exp(-(t-t0)/b): transit time (a+1) b, area b^(a+1) Gamma(a+1) (identities of
    # the gamma function); within 0.5 % noise-free, 2 % with noise of 1 % of the peak per sample.
    from math import gamma

    clean = textbook(a, b_s)
    scale, sd = 4.0 / clean.max(), 4.0 * noise
    samples = scale * clean + np.random.default_rng(7).normal(0.0, sd, clean.size)
    drop = bin_means(
        samples, 200.0, start_s=0.0, from_s=0.0, step_s=wash.STEP_S, bins=T.size - 1
    )  # fmt: skip
    short = 0.02  # a bolus given at once
    fit = fit_wash(
        drop, max(local_noise(drop[:45]), 1e-3), injection=pulse(2.0 - short, 2.0 + short),
        family="gamma variate",
    )  # fmt: skip
    limit = 0.02 if noise else 0.005
    assert fit.moment_s - fit.zero_s == pytest.approx((a + 1) * b_s, rel=limit)
    area = scale * b_s ** (a + 1) * gamma(a + 1)
    assert fit.fit.parameters[wash.AREA] == pytest.approx(area, rel=limit)


CUT = [(0.30, 0.281), (0.20, 0.292), (0.10, 0.304), (0.05, 0.311)]


@pytest.mark.parametrize(("share", "plain"), CUT)
def test_a_tail_cut_off_is_carried_on_where_a_plain_moment_is_too_short(
    share: float, plain: float
) -> None:
    # t^3 exp(-t / 0.08) has mean 0.3200 s (identity). Cut at 30, 20, 10, 5 % of its peak a plain
    # moment gives 0.281, 0.292, 0.304, 0.311 s; our fit misses by at most 3 %.
    x = np.arange(0.0, 4.0, 0.0005)
    c = x**3 * np.exp(-x / 0.08)
    top = int(np.argmax(c))
    end = top + int(np.flatnonzero(c[top:] < share * c[top])[0])
    assert (x * c)[: end + 1].sum() / c[: end + 1].sum() == pytest.approx(plain, abs=1e-3)

    samples = 4.0 / c.max() * textbook(3.0, 0.08)
    samples[int((2.0 + x[end]) * 200.0) :] = np.nan
    drop = bin_means(
        samples, 200.0, start_s=0.0, from_s=0.0, step_s=wash.STEP_S, bins=T.size - 1
    )  # fmt: skip
    fit = fit_wash(drop, 1e-3, injection=pulse(1.98, 2.02), family="gamma variate")
    assert fit.moment_s - fit.zero_s == pytest.approx(0.3200, rel=0.03)


@given(st.floats(0.2, 20.0))
@settings(max_examples=12, deadline=None)
def test_strength_of_the_bolus_does_not_change_its_time(strength: float) -> None:
    drop = gamma_density(T, 2.3, 4.0, 0.2)
    one = fit_wash(drop, 1e-3, injection=pulse(2.0, 2.6), family="lagged normal")
    other = fit_wash(strength * drop, 1e-3 * strength, injection=pulse(2.0, 2.6),
                     family="lagged normal")  # fmt: skip
    # The baseline's prior is in °C, so equality is close, not exact.
    assert other.moment_s == pytest.approx(one.moment_s, abs=0.01)


def test_wall_does_not_belong_to_the_transit() -> None:
    seen = gamma_density(T, 2.3, 4.0, 0.2)
    step, level, slow = wash.STEP_S, 0.0, np.empty_like(seen)
    for k, value in enumerate(seen):
        keep = np.exp(-step / 2.5)
        level = keep * level + (1 - keep) * value
        slow[k] = level
    walled = 3.0 * (0.9 * seen + 0.1 * slow)
    fit = fit_wash(walled, 2e-3, injection=pulse(2.0, 2.6), family="gamma variate")
    plain = float((T * walled).sum() / walled.sum())
    assert plain - 3.3 > 0.2  # what a moment without the wall would be off by
    assert fit.moment_s == pytest.approx(3.3, abs=0.03)


def test_gradients_of_the_chain_are_exact() -> None:
    from arteriole.thermo.density import LaplaceGrid

    y = gamma_density(T, 2.3, 4.0, 0.2)
    for injection in (pulse(2.0, 2.6), Injection(pulses=((2.0, 2.6, 1.0),), zero_sd_s=0.3,
                                                 log_duration_sd=0.3)):  # fmt: skip
        grid = LaplaceGrid(wash.STEP_S, y.size)
        model = wash._chain(grid, y, np.ones(y.size), injection, "local density random walk")
        q = np.array([3.0, 0.9, -1.1, 1.2, -1.9, 0.1, 0.9, 0.1, -0.1, 0.02, 0.001, 0.05, 0.1])
        q = q[: 13 if injection.free else 11]
        if injection.free:
            q[7:9] = 0.0
        _, jacobian = model(q, True)
        assert jacobian is not None
        for k in range(q.size):
            if injection.free and k in (wash.TILT, wash.BOW):
                continue  # held at nothing where the injection was not seen
            step = np.zeros(q.size)
            step[k] = 1e-6
            difference = (model(q + step, False)[0] - model(q - step, False)[0]) / 2e-6
            assert np.abs(difference - jacobian[k]).max() < 1e-4 * np.abs(jacobian[k]).max()


def test_an_injection_free_to_move_does_not_explain_the_whole_curve_without_transit() -> None:
    # 5 mL/s through 1 mL is 0.2 s [decision 0055]; the weight grows below it and has its gradient
    q = np.zeros(13)
    for mean_s, weighed in ((0.30, False), (0.10, True)):
        q[wash.MEAN], q[wash.LOG_SD] = mean_s, np.log(0.39 * mean_s)
        off, by = wash._held(q, True)
        step = np.zeros(13)
        step[wash.MEAN] = 1e-6
        difference = (wash._held(q + step, True)[0] - wash._held(q - step, True)[0]) / 2e-6
        assert by[:, wash.MEAN] == pytest.approx(difference, rel=1e-4)
        assert bool(off[1] < 0.0) is weighed
        assert wash._held(q, False)[0][1] == 0.0


def test_lost_samples_hardly_move_the_time() -> None:
    drop = 3.0 * gamma_density(T, 2.3, 4.0, 0.2)
    whole = fit_wash(drop, 2e-3, injection=pulse(2.0, 2.6), family="gamma variate").moment_s
    holed = drop.copy()
    holed[70:74] = np.nan
    part = fit_wash(holed, 2e-3, injection=pulse(2.0, 2.6), family="gamma variate").moment_s
    assert part == pytest.approx(whole, abs=0.02)


def along_a_wall(seconds: float, per_s: float, back_s: float, cells: int = 60) -> np.ndarray:
    """Cold carried through equal cells whose wall takes it up at a rate and gives it back late."""
    step, n = 0.002, 8000
    lumen, wall, out = np.zeros(cells), np.zeros(cells), np.empty(n)
    for k in range(n):
        inlet = 1.0 if 1000 <= k < 1100 else 0.0  # 0.2 s from 2.0 s on
        flow = np.concatenate([[inlet], lumen[:-1]]) - lumen
        lost = per_s * (lumen - wall)
        lumen = lumen + step * (flow * cells / seconds - lost)
        wall = wall + step * lost / (per_s * back_s)
        out[k] = lumen[-1]
    return out


@pytest.mark.parametrize(("seconds", "rel"), [(0.4, 0.03), (1.2, 0.03)])
def test_cold_taken_up_along_the_way_does_not_belong_to_the_transit(
    seconds: float, rel: float
) -> None:
    # Cells in a row: mean transit = seconds, by construction; the wall takes 0.25 per second,
    # so three times as much of a slow bolus as of a fast one.
    row = along_a_wall(seconds, 0.25, 2.5)
    drop = bin_means(row * 5.0, 500.0, start_s=0.0, from_s=0.0, step_s=wash.STEP_S, bins=390)
    fit = fit_wash(drop, 2e-3, injection=pulse(2.0, 2.2), family="gamma variate")
    lag = float(np.exp(fit.fit.parameters[wash.LOG_LAG]))
    assert lag < 0.3
    assert fit.moment_s - fit.zero_s == pytest.approx(seconds, rel=rel)
    t = (np.arange(390) + 0.5) * wash.STEP_S
    assert (t * drop).sum() / drop.sum() - 2.1 > 1.25 * seconds  # what a plain moment would give
