"""Doubt of a mean transit time: what is common to a wire stays, what is a curve's own shrinks."""

from dataclasses import replace

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat

from arteriole.indices.evidence import InjectionEvidence
from arteriole.indices.quantity import Chance, Quantity, combine
from arteriole.indices.transit import (
    FLOW_SPREAD,
    SOURCES,
    beat_doubt,
    charged_spread,
    physical,
    relative_spread,
    transit,
)
from indices.cases import indices, injections

CHANCE = Chance(seed=11, count=100_000)
ALIKE = (0.0, 50.0)  # no spread at all


def row(times, phase="rest", **sd_s):
    return [
        InjectionEvidence(label=f"{phase}{k}", phase=phase, tmn_s=t, sd_s=sd_s)
        for k, t in enumerate(times)
    ]


def test_common_doubt_does_not_shrink_with_the_number_of_injections():
    one = transit(row((1.0,), fill=0.02), "rest", ALIKE, CHANCE)
    nine = transit(row((1.0,) * 9, fill=0.02), "rest", ALIKE, CHANCE)

    assert nine.sd == pytest.approx(one.sd, rel=1e-9)
    assert nine.sd == pytest.approx(0.02, rel=0.02)


def test_own_doubt_shrinks_with_the_root_of_the_number():
    one = transit(row((1.0,), noise=0.03), "rest", ALIKE, CHANCE)
    nine = transit(row((1.0,) * 9, noise=0.03), "rest", ALIKE, CHANCE)

    assert nine.sd == pytest.approx(one.sd / 3.0, rel=1e-9)


def test_a_mean_of_three_agrees_with_the_uncertainties_package():
    # noise is each curve's own, the fill common to all, half of the tail's variance common
    sd = {"noise": 0.02, "fill": 0.012, "tail": 0.015}
    fill, tail = ufloat(0.0, 0.012), ufloat(0.0, 0.015 * 0.5**0.5)
    times = (0.95, 1.00, 1.05)
    said = sum(t + ufloat(0.0, 0.02) + ufloat(0.0, 0.015 * 0.5**0.5) for t in times) / 3.0
    said = said + fill + tail
    got = transit(row(times, **sd), "rest", ALIKE, CHANCE)

    assert got.value == pytest.approx(said.nominal_value)
    assert got.sd == pytest.approx(said.std_dev, rel=0.01)


def test_a_common_time_zero_partly_cancels_in_the_ratio_as_the_uncertainties_package_says():
    rest = transit(row((1.0, 1.0, 1.0), "rest", fill=0.004), "rest", ALIKE, CHANCE)
    hyper = transit(row((0.5, 0.5, 0.5), "hyperaemia", fill=0.004), "hyperaemia", ALIKE, CHANCE)
    got = combine(lambda a, b: a / b, rest, hyper)
    a, b = correlated_values([1.0, 0.5], [[0.004**2, 0.004**2], [0.004**2, 0.004**2]])
    said = a / b

    assert got.sd == pytest.approx(said.std_dev, rel=0.02)
    assert got.sd < 0.6 * (2.0 * np.hypot(0.004, 0.008))  # independent: larger


def test_what_flow_itself_does_between_injections_is_no_error_of_their_mean():
    assert charged_spread(FLOW_SPREAD) == pytest.approx(FLOW_SPREAD / 4.0)
    assert charged_spread(0.15) == pytest.approx((0.15**2 - FLOW_SPREAD**2) ** 0.5)
    assert charged_spread(0.15) > 0.9 * 0.15  # a wide spread is charged nearly whole


def test_an_injection_left_out_widens_every_index_it_would_have_moved():
    rows = [*injections(hyper=(0.24, 0.26, 0.25, 0.36))]
    rows[-1] = replace(rows[-1], verdict="left out")
    apart, alike = indices(injections=tuple(rows)), indices()

    for key in ("tmn_hyper", "cfr_bolus", "imr", "rrr", "mrr_bolus"):
        assert apart[key].value == pytest.approx(alike[key].value)
        assert np.diff(apart[key].interval95) > 1.3 * np.diff(alike[key].interval95), key


@pytest.mark.parametrize(
    "key", ["tmn_rest", "cfr_bolus", "baseline_resistance_index", "rrr", "mrr_bolus"]
)
def test_each_index_is_shown_with_each_injection_left_out(key):
    one = indices()[key]

    # rest 0.95, 1.02, 1.00 s: without R1 the mean is 1.01 s (exact)
    without = one.alternatives["without R1"]
    assert without / one.value == pytest.approx(1.01 / 0.99)
    assert {"without R2", "without R3", "median of injections"} <= set(one.alternatives)


def test_physical_transit_takes_lag_and_fill_off_and_widens():
    used = [replace(i, cold_late_s=0.03, cold_late_sd_s=0.01) for i in row((0.40, 0.40, 0.40))]
    read = transit(used, "hyperaemia", ALIKE, CHANCE)
    lag = Quantity(value=0.15, parts={"lag": 0.03 * CHANCE.normal("lag")})
    left = physical(read, lag, used, "hyperaemia", CHANCE)

    assert left.value == pytest.approx(0.40 - 0.15 - 0.03)
    assert set(left.shares()) == {"lag", "catheter fill", "flow during the injection"}
    assert left.sd > np.hypot(0.03, 0.01)


def test_a_short_transit_depends_on_its_place_in_the_beat_and_a_long_one_hardly():
    assert beat_doubt(0.2) > 0.10
    assert beat_doubt(0.85) < 0.001
    assert beat_doubt(1.3) < 0.04


def test_spread_of_one_injection_is_what_was_believed_before():
    spread, degrees = relative_spread(row((1.0,)))

    assert (spread, degrees) == (pytest.approx(0.04), 3.0)


def test_every_source_of_the_reading_is_known_here():
    assert {"time zero", "fill", "placing", "noise", "tail", "model", "shape"} <= set(SOURCES)


def test_how_far_off_a_failed_injection_lies_does_not_matter_beyond_a_point():
    far = [replace(i, verdict="repeat") for i in row((2.2,))]
    farther = [replace(i, verdict="repeat") for i in row((9.0,))]
    used = row((0.98, 1.0, 1.02))

    assert relative_spread(used + far) == relative_spread(used + farther)
    assert relative_spread(used + far)[0] > 1.5 * relative_spread(used)[0]


def test_a_moved_time_zero_is_told_beside_the_transit_times():
    said = indices(zero_moved_s=-0.013)["tmn_rest"].note
    assert "13 ms earlier" in said
    assert "pushes on Pd" not in indices()["tmn_rest"].note
