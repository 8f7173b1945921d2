"""A push on Pd: found by its edges, wide where Pd is restless, silent where Pd is lost."""

import numpy as np
import pytest

from arteriole.recording import Settings
from arteriole.thermo import read_bolus
from arteriole.thermo.push import Expected, read_push
from thermo.chains import bolus, flow, times

RATE_HZ = 200.0
T = times(30.0, RATE_HZ)
USUAL = Expected(middle_s=10.4, middle_sd_s=0.4, begun_by_s=10.8)


def distal_pressure(rng, *, beat_s: float = 0.85, uneven: float = 0.03, breath_mmhg: float = 3.0):
    """Upstroke of 0.12 s, decay and a dicrotic wave, beat by beat; a breath every 4 s; noise."""
    t, pd, start, foot = T, np.full(T.size, 70.0), -1.0, 70.0
    while start < t[-1]:
        length = beat_s * (1.0 + uneven * rng.standard_normal())
        since = t - start
        top = 115.0 + 1.0 * rng.standard_normal()
        up = foot + (top - foot) * (0.5 - 0.5 * np.cos(np.pi * np.clip(since / 0.12, 0.0, 1.0)))
        down = 45.0 + (up - 45.0) * np.exp(-np.maximum(since - 0.12, 0.0) / 0.9)
        wave = down + 5.0 * np.exp(-(((since - 0.36) / 0.05) ** 2))
        pd = np.where((since >= 0.0) & (since < length), wave, pd)
        foot = 45.0 + (top - 45.0) * np.exp(-max(length - 0.12, 0.0) / 0.9)
        start += length
    breath = breath_mmhg * np.sin(2.0 * np.pi * T / 4.0 + rng.uniform(0.0, 6.0))
    return pd + breath + rng.normal(0.0, 0.4, T.size)


def pushed(rng, *, start_s: float, length_s: float, rise_mmhg: float, **kind: float):
    rate = flow(T, start_s, start_s + length_s)
    return distal_pressure(rng, **kind) + rise_mmhg * rate / rate.max()


def read(pd, expected: Expected = USUAL):
    return read_push(pd, RATE_HZ, start_s=0.0, from_s=8.7, to_s=12.7, expected=expected)


def test_a_push_is_placed_by_its_edges() -> None:
    # a belief with tails: of 400 such pushes one lies beyond three of its SD
    off = []
    for seed in range(150):
        rng = np.random.default_rng(seed)
        start_s, length_s = rng.uniform(10.0, 10.4), rng.uniform(0.4, 0.8)
        pd = pushed(rng, start_s=start_s, length_s=length_s, rise_mmhg=rng.uniform(5.0, 12.0),
                    beat_s=rng.uniform(0.6, 1.1))  # fmt: skip
        push = read(pd)
        assert push is not None
        off.append(
            abs(push.middle_s - start_s - 0.5 * length_s) / max(0.05, 3.0 * push.middle_sd_s)
        )
    assert np.mean(np.array(off) < 1.0) >= 0.98
    assert np.median(off) < 0.3


def test_the_belief_holds_the_truth_as_often_as_it_says() -> None:
    inside, sds = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        start_s, length_s = rng.uniform(10.0, 10.4), rng.uniform(0.42, 0.8)
        push = read(pushed(rng, start_s=start_s, length_s=length_s, rise_mmhg=5.0))
        assert push is not None
        off = push.middle_s - start_s - 0.5 * length_s
        inside.append(abs(off) < 1.96 * push.middle_sd_s)
        sds.append(push.middle_sd_s)
    assert np.mean(inside) >= 0.88
    assert np.median(sds) < 0.05


def test_no_push_says_little_more_than_was_known() -> None:
    for seed in range(5):
        push = read(distal_pressure(np.random.default_rng(seed)))
        assert push is not None
        assert push.middle_sd_s > 0.15
        assert abs(push.middle_s - USUAL.middle_s) < 2.5 * USUAL.middle_sd_s


def test_a_restless_pressure_gives_a_wider_answer() -> None:
    def width(uneven: float) -> float:
        pushes = [
            read(pushed(np.random.default_rng(seed), start_s=10.2, length_s=0.6, rise_mmhg=4.0,
                        uneven=uneven, breath_mmhg=60.0 * uneven))
            for seed in range(8)
        ]  # fmt: skip
        return float(np.median([p.middle_sd_s for p in pushes if p is not None]))

    assert width(0.25) > 2.0 * width(0.02)


def test_an_early_beat_is_not_taken_for_a_push() -> None:
    rng = np.random.default_rng(3)
    pd = pushed(rng, start_s=10.2, length_s=0.6, rise_mmhg=6.0)
    early = (T > 11.5) & (T < 11.8)
    pd[early] += 25.0  # what no push can add within one step
    push = read(pd)
    assert push is not None
    assert push.middle_s == pytest.approx(10.5, abs=0.1)


def test_what_began_after_the_cold_arrived_is_no_push() -> None:
    pd = pushed(np.random.default_rng(1), start_s=11.4, length_s=0.6, rise_mmhg=8.0)
    push = read(pd, Expected(middle_s=10.4, middle_sd_s=0.4, begun_by_s=10.7))
    assert push is not None
    assert push.middle_s < 11.2


def test_a_lost_or_flat_pressure_says_nothing() -> None:
    pd = pushed(np.random.default_rng(1), start_s=10.2, length_s=0.6, rise_mmhg=8.0)
    lost = pd.copy()
    lost[(T > 10.0) & (T < 11.0)] = np.nan
    assert read(lost) is None
    assert read(np.full(T.size, 80.0)) is None
    assert read(pd[T < 10.5]) is None


def test_a_view_that_ends_soon_after_the_curve_gives_the_same() -> None:
    pd = pushed(np.random.default_rng(2), start_s=10.2, length_s=0.6, rise_mmhg=8.0)
    whole, early = read(pd), read(pd[T < 12.0])
    assert whole is not None
    assert early is not None
    assert early.middle_s == pytest.approx(whole.middle_s, abs=0.02)


@pytest.mark.parametrize("transit_s", [0.3, 0.6, 1.1])
def test_without_a_shaft_the_push_on_pd_places_the_injection(transit_s: float) -> None:
    rng = np.random.default_rng(4)
    drop, injection, tmn = bolus(T, transit_s=transit_s)
    temp = 37.0 - drop + rng.normal(0.0, 0.02, T.size)
    pd = distal_pressure(rng) + 6.0 * injection / injection.max()
    pa = np.where((T > 9.6) & (T < 11.3), 85.0, distal_pressure(rng))
    words = {"rate_hz": RATE_HZ, "start_s": 0.0, "injection_s": 10.4, "next_injection_s": None}
    reading = read_bolus(
        temp_c=temp, shaft_c=None, pa_mmhg=pa, pd_mmhg=pd, settings=Settings(), **words
    )
    plain = read_bolus(
        temp_c=temp, shaft_c=None, pa_mmhg=pa, pd_mmhg=None, settings=Settings(), **words
    )
    zero = float((T * injection).sum() / injection.sum())
    assert reading.time_zero == plain.time_zero == "pressure"
    assert reading.zero_s == pytest.approx(zero, abs=0.05)
    assert reading.tmn_s == pytest.approx(tmn, abs=0.05)
    assert reading.sd_s["time zero"] < 0.6 * np.hypot(
        plain.sd_s["time zero"], plain.sd_s["placing"]
    )
