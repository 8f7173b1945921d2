"""One bolus read from arrays."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from arteriole.recording import Settings
from arteriole.thermo import grade_injections, read_bolus
from thermo.chains import bolus, shaft_drop, times

T = times(30.0)
SETTINGS = Settings()
DATA = Path(__file__).parents[3] / "shared" / "data"


def recording(*, noise: float = 0.02, seed: int = 5, **kind: float):
    rng = np.random.default_rng(seed)
    drop, injection, tmn = bolus(T, **kind)
    temp = 37.0 - drop + rng.normal(0.0, noise, T.size)
    shaft = 36.6 - shaft_drop(T, injection) + rng.normal(0.0, noise, T.size)
    pa = 90.0 + 20.0 * np.sin(2 * np.pi * 1.1 * T)
    return temp, shaft, pa, tmn, float((T * injection).sum() / injection.sum())


def read(temp, shaft=None, pa=None, **other):
    words = {"injection_s": 10.4, "next_injection_s": None, "start_s": 0.0, "rate_hz": 200.0}
    return read_bolus(
        temp_c=temp, shaft_c=shaft, pa_mmhg=pa, pd_mmhg=pa, settings=SETTINGS, **(words | other)
    )


@pytest.mark.parametrize(("transit_s", "rel"), [(1.3, 0.04), (0.8, 0.05), (0.25, 0.10)])
@pytest.mark.parametrize("wall", [0.0, 0.1])
def test_tmn_is_mean_distal_minus_mean_proximal_passage(
    transit_s: float, rel: float, wall: float
) -> None:
    # Indicator-dilution theorem [Meier1954] on a chain of known means; lag 0.15 s left in.
    temp, shaft, pa, tmn, zero = recording(transit_s=transit_s, wall=wall)
    reading = read(temp, shaft, pa)
    assert reading.time_zero == "shaft"
    assert reading.zero_s == pytest.approx(zero, abs=0.03)
    assert reading.tmn_s == pytest.approx(tmn, rel=rel)
    sd = np.sqrt(sum(v * v for v in reading.sd_s.values()))
    assert abs(reading.tmn_s - tmn) < 2.6 * sd
    assert reading.tmn_onset_s > reading.tmn_s


@given(st.floats(-0.9, 0.9))
@hypothesis_settings(max_examples=8, deadline=None)
def test_the_approximate_time_does_not_matter(off_s: float) -> None:
    temp, shaft, pa, _, _ = recording()
    assert read(temp, shaft, pa, injection_s=10.0 + off_s).tmn_s == pytest.approx(
        read(temp, shaft, pa).tmn_s, abs=0.02
    )


@pytest.mark.parametrize("rate_hz", [100.0, 125.0, 500.0, 1000.0])
def test_the_rate_does_not_matter(rate_hz: float) -> None:
    t = times(30.0, rate_hz)
    drop, injection, tmn = bolus(t)
    rng = np.random.default_rng(0)
    temp = 37.0 - drop + rng.normal(0.0, 0.01, t.size)
    shaft = 36.6 - shaft_drop(t, injection) + rng.normal(0.0, 0.01, t.size)
    assert read(temp, shaft, rate_hz=rate_hz).tmn_s == pytest.approx(tmn, rel=0.05)


def test_relative_and_absolute_temperature_give_the_same() -> None:
    temp, shaft, pa, _, _ = recording()
    assert read(temp - 37.0, shaft - 37.0, pa).tmn_s == pytest.approx(read(temp, shaft, pa).tmn_s)


def test_without_shaft_the_interval_still_holds_the_truth() -> None:
    for seed in range(4):
        temp, _, pa, tmn, _ = recording(seed=seed, transit_s=0.5 + 0.25 * seed)
        flat = pa.copy()
        flat[(T > 9.6) & (T < 11.2)] = 85.0
        for pressure, source in ((flat, "pressure"), (pa, "arrival")):
            reading = read(temp, None, pressure)
            assert reading.time_zero == source
            sd = np.sqrt(sum(v * v for v in reading.sd_s.values()))
            assert abs(reading.tmn_s - tmn) < 1.96 * sd
            assert sd > 0.05


def test_a_marked_time_zero_stands_above_the_shaft() -> None:
    temp, shaft, pa, _, _ = recording()
    reading = read(temp, shaft, pa, zero_s=10.2)
    assert reading.time_zero == "marked"
    assert reading.zero_s == pytest.approx(10.2)


def test_a_following_injection_does_not_enter() -> None:
    temp, shaft, pa, _, _ = recording()
    alone = read(temp, shaft, pa).tmn_s
    later, injection, _ = bolus(T, start_s=18.0)
    both = read(temp - later, shaft - shaft_drop(T, injection), pa, next_injection_s=18.2)
    assert both.tmn_s == pytest.approx(alone, rel=0.02)


def test_no_drop_gives_no_time_and_says_why() -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.02, T.size)
    reading = read(37.0 + noise)
    assert reading.tmn_s is None
    assert reading.faults == ("small",)
    assert read(np.full(T.size, np.nan)).faults == ("lost",)
    assert read(37.0 + noise, injection_s=31.5).faults == ("too_short",)


def test_features_are_finite_numbers() -> None:
    temp, shaft, pa, _, _ = recording()
    reading = read(temp, shaft, pa)
    assert all(np.isfinite(v) for v in reading.features.values())
    assert reading.curve is not None
    assert reading.curve.t_s.shape == reading.curve.drop_c.shape
    assert replace(reading, faults=()).model == reading.model


@pytest.mark.skipif(not DATA.exists(), reason="open curves are not beside this checkout")
def test_open_bolus_curves_are_read_without_failing() -> None:
    # dsc_data: tissue curves of known 60 CBV/CBF; ParkerAIF: a population bolus with
    # recirculation. Robustness only: their time scale is put to seconds of a coronary bolus.
    lines = (DATA / "dsc_data.csv").read_text().splitlines()[1:]
    curves = [np.array(line.split(",")[2].split(), dtype=float) for line in lines]
    read_ones = 0
    for curve in curves:
        fine = np.interp(T, 10.0 + 0.05 * np.arange(curve.size), curve, left=0.0, right=0.0)
        reading = read(37.0 - 4.0 * fine / fine.max())
        assert reading.tmn_s is None or 0.0 < reading.tmn_s < 5.0
        read_ones += reading.tmn_s is not None
    assert read_ones >= 12
    rows = [r.split(",") for r in (DATA / "ParkerAIF_ref.csv").read_text().splitlines()[1:]]
    first = np.array([[float(r[1]), float(r[2])] for r in rows if r[0] == "original_AIF"])
    fine = np.interp(T, 10.0 + 0.1 * first[:, 0], first[:, 1], left=0.0)
    assert np.isfinite(read(37.0 - 4.0 * fine / fine.max()).tmn_s or 0.5)


@given(st.integers(0, 10**6), st.sampled_from([20.0, 60.0, 200.0, 333.0, 2000.0]))
@hypothesis_settings(max_examples=25, deadline=None)
def test_any_arrays_give_a_reading_or_a_reason(seed: int, rate_hz: float) -> None:
    rng = np.random.default_rng(seed)
    t = times(float(rng.uniform(4.0, 25.0)), rate_hz)
    drop, _, _ = bolus(t, start_s=float(rng.uniform(0.3, 3.0)), drop_c=10.0 ** rng.uniform(-6, 6))
    temp = 37.0 - drop + rng.normal(0.0, 10.0 ** rng.uniform(-6, 0.5), t.size)
    temp[rng.random(t.size) < rng.uniform(0.0, 1.0)] = np.nan
    shaft = 36.0 + np.cumsum(rng.normal(0.0, 0.1, t.size))
    reading = read(
        temp, shaft if seed % 2 else None, np.full(t.size, np.nan), rate_hz=rate_hz,
        injection_s=float(rng.uniform(-2.0, 30.0)),
    )  # fmt: skip
    assert (reading.tmn_s is None) == bool(reading.faults)
    assert reading.tmn_s is None or 0.0 < reading.tmn_s < 30.0
    numbers = {**reading.features, **reading.sd_s}
    assert {k: v for k, v in numbers.items() if not np.isfinite(v)} == {}


def test_a_second_slower_path_is_read_as_a_path_and_not_as_a_long_tail() -> None:
    # 40 % of the flow takes a path 3.5 times slower: mean 0.6 m1 + 0.4 * 3.5 m1 = 2 m1.
    fast, injection, _ = bolus(T, transit_s=0.6, shape=25.0, lag_s=0.12)
    slow, _, _ = bolus(T, transit_s=2.1, shape=25.0, lag_s=0.12)
    rng = np.random.default_rng(3)
    temp = 37.0 - 0.6 * fast - 0.4 * slow + rng.normal(0.0, 0.01, T.size)
    shaft = 36.6 - shaft_drop(T, injection) + rng.normal(0.0, 0.01, T.size)
    found = read(temp, shaft)
    assert found.model.startswith("two paths")
    assert found.features["humps"] == 2.0
    assert found.tmn_s == pytest.approx(1.2 + 0.12, rel=0.05)
    assert found.features["tail_share"] < 0.2


def test_an_early_injection_cuts_the_curve_before_it() -> None:
    temp, shaft, pa, tmn, _ = recording(transit_s=0.8)
    again = np.roll(37.0 - temp, int(3.0 * 200))
    again[: int(3.0 * 200)] = 0.0
    cut = read(temp - again, shaft, pa, next_injection_s=13.0)
    assert cut.end_s <= 13.0
    assert cut.tmn_s == pytest.approx(tmn, rel=0.08)


def test_an_early_injection_starts_where_it_starts_and_not_at_the_one_before() -> None:
    gap_s = 3.0
    first, injection, _ = bolus(T, start_s=10.0, transit_s=0.5)
    second, again, _ = bolus(T, start_s=10.0 + gap_s, transit_s=0.5)
    rng = np.random.default_rng(4)
    temp = 37.0 - first - second + rng.normal(0.0, 0.01, T.size)
    shaft = 36.6 - shaft_drop(T, injection + again) + rng.normal(0.0, 0.01, T.size)
    early = read(temp, shaft, injection_s=10.0 + gap_s)
    assert early.time_s == pytest.approx(10.0 + gap_s, abs=0.3)
    assert all(sd < 3.0 for sd in early.sd_s.values())
    before = read(temp, shaft, injection_s=10.0, next_injection_s=10.0 + gap_s)
    assert before.time_s == pytest.approx(10.0, abs=0.1)


@pytest.mark.parametrize("kind", [{"transit_s": 1.2}, {"transit_s": 0.3}, {"length_s": 1.7}])
def test_the_verdict_stands_two_seconds_after_the_curve_has_ended(kind: dict[str, float]) -> None:
    # the curve has ended where the bolus has fallen to a tenth of its peak
    temp, shaft, pa, _, _ = recording(wall=0.1, **kind)
    whole = read(temp, shaft, pa)
    assert whole.curve is not None
    standing = np.flatnonzero(whole.curve.fit_c > 0.1 * whole.curve.fit_c.max())
    n = int((whole.curve.t_s[standing[-1]] + 2.0) * 200.0)
    soon = read(temp[:n], shaft[:n], pa[:n])
    assert soon.tmn_s == pytest.approx(whole.tmn_s, rel=0.04)
    verdicts = [grade_injections([r], ["rest"], SETTINGS)[0] for r in (soon, whole)]
    assert verdicts[0] == verdicts[1]
    assert all(len(why.split()) < 8 for why in verdicts[0][1])


def test_a_clipped_curve_is_carried_over_its_top_and_named() -> None:
    temp, shaft, pa, tmn, _ = recording(transit_s=0.8, noise=0.005)
    floor = float(temp.min()) + 0.3 * (37.0 - float(temp.min()))
    assert read(temp, shaft, pa).features["clipped_s"] == 0.0
    cut = read(np.maximum(temp, floor), shaft, pa)
    assert cut.features["clipped_s"] > 0.25
    assert cut.features["humps"] == 1.0
    assert cut.tmn_s == pytest.approx(tmn, rel=0.05)
    (graded,) = grade_injections([cut], ["rest"], SETTINGS)
    assert graded == ("look again", ("temperature clipped at its coldest",))


def test_a_curve_kept_in_coarse_steps_is_not_taken_for_clipped() -> None:
    temp, shaft, pa, _, _ = recording(transit_s=0.8, noise=0.005)
    assert read(np.round(temp / 0.02) * 0.02, shaft, pa).features["clipped_s"] == 0.0
