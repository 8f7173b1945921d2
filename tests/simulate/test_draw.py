"""A cohort's settings: about two in five clean, everything else in its range."""

import pytest

from arteriole.simulate import ARTEFACTS, PATTERNS, draw, drawn_session

DRAWN = [draw(5, index=k) for k in range(400)]


def test_about_two_in_five_are_clean():
    clean = sum(not d.artefacts for d in DRAWN) / len(DRAWN)

    assert 0.33 < clean < 0.47


def test_every_pattern_and_fault_comes_up():
    assert {d.pattern for d in DRAWN} == set(PATTERNS)
    assert {a for d in DRAWN for a in d.artefacts} == set(ARTEFACTS)


def test_rates_and_channels_vary():
    assert {d.rate_hz for d in DRAWN} == {200.0, 250.0, 500.0, 1000.0}
    for name in ("continuous", "shaft", "ecg_channel", "relative", "stepped"):
        assert {getattr(d, name) for d in DRAWN} == {True, False}
    rates = [d.overrides.get("heart_rate_bpm", 70.0) for d in DRAWN]
    assert min(rates) >= 50.0
    assert max(rates) <= 140.0


def test_the_same_place_in_a_cohort_is_the_same_session():
    assert draw(5, index=17) == DRAWN[17]
    assert draw(6, index=17) != DRAWN[17]


def test_the_sheet_of_a_drawn_session_states_the_own_lag_of_its_sensor() -> None:
    for k in range(3):
        made = drawn_session(k)
        assert made.sheet.sensor_lag_s == pytest.approx(made.truth["sensor_lag_true_s"], abs=0.0051)
