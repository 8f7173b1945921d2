"""Cold moves by volume: a transit against a beating flow, set against one in a steady flow."""

from dataclasses import replace

import numpy as np
import pytest

from arteriole.thermo.passage import (
    DIASTOLIC_RATIO,
    BeatCourse,
    Passage,
    beat_factor,
    steady_transit_s,
)

BEAT_S, SYSTOLE_S, VOLUME = 0.8, 0.3, 0.25  # s, s, s at mean flow
STEP_S = 0.001
T = np.arange(0.0, 8.0, STEP_S)


def course(ratio):
    """Flow of 1 in systole and ``ratio`` in diastole, as the two parts of a beat."""
    systole = (T % BEAT_S) < SYSTOLE_S
    return BeatCourse(
        t_s=T, systolic=systole.astype(float), diastolic=(~systole).astype(float),
        systole_share=SYSTOLE_S / BEAT_S,
    )  # fmt: skip


def plug(start_s, ratio):
    """A push of 0.5 s through a vessel without dispersion: each parcel leaves VOLUME later."""
    flow = course(ratio).flow(ratio)
    volume = np.cumsum(flow) * STEP_S
    entered = ((start_s <= T) & (start_s + 0.5 > T)).astype(float)
    left = np.interp(np.interp(volume - VOLUME, volume, T, left=0.0), T, entered)
    return Passage(entry_s=T, entry_weight=entered, t_s=T, left_c=left)


def middle(t, weight):
    return float(t @ weight / weight.sum())


@pytest.mark.parametrize("start_s", [2.0, 2.15, 2.3, 2.5, 2.7])
def test_mean_volumes_differ_by_the_volume_of_the_vessel_wherever_in_the_beat(start_s):
    # exact for plug flow: a parcel leaves when the volume behind it has been replaced [Meier1954]
    ratio = 2.0
    one = plug(start_s, ratio)
    got = steady_transit_s(
        one, course(ratio), entered_s=middle(T, one.entry_weight), left_s=middle(T, one.left_c),
        diastolic_ratio=ratio,
    )  # fmt: skip
    assert got == pytest.approx(VOLUME, rel=0.01)


def test_a_steady_flow_needs_no_correction():
    one = plug(2.1, 1.0)
    even = replace(course(1.0), diastolic=course(1.0).diastolic / 1.8)  # 1 at the ratio of 1.8
    entered, left = middle(T, one.entry_weight), middle(T, one.left_c)
    mean = even.systole_share + (1.0 - even.systole_share) * 1.8
    flat = replace(even, systolic=even.systolic * mean, diastolic=even.diastolic * mean)
    assert beat_factor(one, flat, entered_s=entered, left_s=left, right_artery=False) == (
        pytest.approx(1.0, abs=0.01)
    )


def test_half_of_the_shift_is_taken_off():
    ratio = DIASTOLIC_RATIO["left"]
    one = plug(2.4, ratio)
    entered, left = middle(T, one.entry_weight), middle(T, one.left_c)
    factor = beat_factor(one, course(ratio), entered_s=entered, left_s=left, right_artery=False)
    assert abs(np.log(factor)) > 0.02
    assert factor**2 * (left - entered) == pytest.approx(VOLUME, rel=0.01)


def test_nothing_known_leaves_the_time_as_it_is():
    one = plug(2.0, 1.8)
    assert beat_factor(one, None, entered_s=2.2, left_s=2.5, right_artery=True) == 1.0
    assert beat_factor(None, course(1.8), entered_s=2.2, left_s=2.5, right_artery=True) == 1.0
    assert beat_factor(one, course(1.8), entered_s=2.5, left_s=2.2, right_artery=True) == 1.0
