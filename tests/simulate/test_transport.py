"""Cold in the artery: balance of heat, transit time, blocks."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arteriole.simulate import schedule, transport
from arteriole.simulate.acts import Inject
from arteriole.simulate.course import transport_constants
from arteriole.simulate.patient import Patient

RATE_HZ = 500.0
STEPS = 4


def shot(volume_ml=3.0, start_s=1.0, end_s=1.6):
    return Inject(
        start_s=start_s, end_s=end_s, state="rest", index=1, volume_ml=volume_ml,
        pieces=((start_s, end_s, 1.0),),
    )  # fmt: skip


def table_of(flow_ml_s, seconds=40.0, act=None, place=1.0):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    table = np.zeros((t.size, transport.INPUTS))
    table[:, transport.IN_FLOW] = flow_ml_s
    table[:, transport.IN_THETA] = 7.0
    table[:, transport.IN_PLACE] = place
    if act is not None:
        table[:, transport.IN_INJECT] = schedule.injected((act,), t)
    return t + 1.0 / RATE_HZ, table


def solve(table, p, cuts=None):
    state = np.zeros(transport.STATES)
    out = np.empty((table.shape[0], transport.OUTPUTS))
    cuts = cuts or [0, table.shape[0]]
    for a, b in pairwise(cuts):
        transport.solver()(
            state, transport_constants(p), table[a:b], out[a:b], 1.0 / RATE_HZ / STEPS, STEPS
        )
    return out, state


def centroid(t, row):
    return float((t * row).sum() / row.sum())


@pytest.mark.parametrize("share", [0.0, 0.4])
def test_heat_that_enters_leaves_or_stays_within_one_percent(share):
    p = replace(Patient(), slow_path=share)
    _, table = table_of(1.1, act=shot())
    out, state = solve(table, p)
    entered, left, lost = (state[transport.SCALARS + k] for k in (3, 4, 5))
    held = transport.heat_held(state, transport_constants(p))

    assert entered > 1.0
    assert left + held + lost == pytest.approx(entered, rel=0.01)
    assert out[:, transport.OUT_ENTER].sum() == pytest.approx(entered, rel=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.4])
@given(flow_ml_s=st.floats(0.5, 6.0), volume_ml=st.floats(0.5, 1.6))
@settings(max_examples=12, deadline=None)
def test_mean_transit_is_volume_over_flow(share, flow_ml_s, volume_ml):
    # Indicator-dilution theorem: for steady flow the mean transit time is V/Q.
    p = replace(Patient(), vessel_volume_ml=volume_ml, slow_path=share, wall_per_s=0.0)
    t, table = table_of(flow_ml_s, act=shot())
    out, _ = solve(table, p)
    passed = centroid(t, out[:, transport.OUT_RAW_NOWALL]) - centroid(
        t, out[:, transport.OUT_ENTER]
    )

    assert passed == pytest.approx(volume_ml / flow_ml_s, rel=0.01, abs=0.002)


def test_the_sensor_adds_its_lag_and_nothing_else():
    p = Patient()
    t, table = table_of(1.2, act=shot())
    out, _ = solve(table, p)

    late = centroid(t, out[:, transport.OUT_NOWALL]) - centroid(t, out[:, transport.OUT_RAW_NOWALL])
    assert late == pytest.approx(p.sensor_lag_s, abs=0.002)


def test_the_wall_lengthens_the_tail():
    p = Patient()
    t, table = table_of(1.2, act=shot())
    out, _ = solve(table, p)

    assert centroid(t, out[:, transport.OUT_RAW]) > centroid(t, out[:, transport.OUT_RAW_NOWALL])


def test_steady_infusion_gives_the_flow_back():
    # Q = 1.08 (Ti/T) Qi, [Aarnoudse2007]; steady flow, no loss to the muscle.
    p = replace(Patient(), wall_loss_per_s=0.0)
    flow, infused, ti = 3.3, 20.0 / 60.0, 5.5
    _, table = table_of(flow, seconds=60.0)
    table[:, transport.IN_HEAT] = schedule.HEAT_RATIO * infused * ti
    out, _ = solve(table, p)
    mixed = out[-1, transport.OUT_RAW]

    assert schedule.HEAT_RATIO * ti / mixed * infused == pytest.approx(flow, rel=0.003)


def test_two_paths_make_two_humps():
    p = replace(Patient(), slow_path=0.45, slow_path_volume=3.6, dispersion=0.0)
    _, table = table_of(0.8, act=shot(end_s=1.4))
    out, _ = solve(table, p)
    row = out[:, transport.OUT_SENSOR]
    peaks = np.flatnonzero((row[1:-1] > row[:-2]) & (row[1:-1] >= row[2:]) & (row[1:-1] > 0.2))

    assert peaks.size == 2


def test_a_push_has_exactly_its_volume():
    t = np.arange(5000) / 1000.0
    flow = schedule.injected((shot(volume_ml=2.7),), t)

    assert flow.sum() / 1000.0 == pytest.approx(2.7, rel=0.001)


def test_solving_in_blocks_gives_the_same_samples():
    _, table = table_of(1.1 + 0.8 * np.sin(np.arange(20000) / 60.0), act=shot())
    whole, _ = solve(table, Patient())
    parts, _ = solve(table, Patient(), [0, 1, 400, 777, 20000])

    assert np.array_equal(whole, parts)
