"""The setting of the gauges: where Pd minus Pa steps while the wave keeps its shape."""

from collections.abc import Sequence

import numpy as np
import pytest

from arteriole.episodes.gauge_setting import find_equalisation
from arteriole.quality import grade
from arteriole.signal import Beats, align, find_beats
from arteriole.signal.graded import Quality
from arteriole.simulate import session

BEAT_S = 0.8


def table(
    gap_mmhg: Sequence[float], shape_mmhg: Sequence[float] | None = None
) -> tuple[Beats, Quality]:
    """Return beats of 0.8 s whose Pd minus Pa is as given, and more of it in diastole."""
    gap = np.asarray(gap_mmhg, dtype=np.float64)
    n = gap.size
    bent = np.zeros(n) if shape_mmhg is None else np.asarray(shape_mmhg, dtype=np.float64)
    start = BEAT_S * np.arange(n)
    index = np.arange(n, dtype=np.int64)
    pa, dia = np.full(n, 95.0), np.full(n, 85.0)
    yes = np.ones(n, dtype=bool)
    beats = Beats(
        rate_hz=100.0, start_s=start, end_s=start + BEAT_S, start_i=index, end_i=index + 1,
        peak_i=index, notch_i=index, on_pd=~yes, pa_mean_mmhg=pa, pd_mean_mmhg=pa + gap,
        pa_systolic_mmhg=pa + 25.0, pa_diastolic_mmhg=pa - 20.0, pd_systolic_mmhg=pa + 25.0,
        pd_diastolic_mmhg=pa - 20.0, full_cycle=np.ones(n), pa_dia_mean_mmhg=dia,
        pd_dia_mean_mmhg=dia + gap + bent, pa_mid_mean_mmhg=dia, pd_mid_mean_mmhg=dia + gap,
        pa_late_mean_mmhg=dia, pd_late_mean_mmhg=dia + gap, delay_s=0.0, delay_sd_s=0.0,
    )  # fmt: skip
    quality = Quality(
        pa_ok=yes, pd_ok=yes, shape_ok=yes, regular=yes, cause=("",) * n, probability=np.zeros(n),
        spans=(), findings=(),
    )  # fmt: skip
    return beats, quality


def still(rng: np.random.Generator, level: float, count: int) -> list[float]:
    return (level + rng.normal(0.0, 0.04, count)).tolist()


@pytest.mark.parametrize(("before", "after"), [(5.9, -0.5), (-4.5, 0.0), (0.6, 0.0), (0.3, 6.0)])
def test_the_setting_is_the_step_of_the_gap(before: float, after: float) -> None:
    rng = np.random.default_rng(3)
    way = np.linspace(after, after - 6.0, 12).tolist()
    row = still(rng, before, 20) + still(rng, after, 9) + way + still(rng, after - 6.0, 30)
    beats, quality = table(row)
    found = find_equalisation(beats, quality, 0.0, 60.0, ())
    assert found is not None
    assert found[0] == pytest.approx(20 * BEAT_S, abs=0.01)
    assert 20 * BEAT_S + 3.0 < found[1] < 30 * BEAT_S


def test_the_beat_in_which_the_gauges_were_set_is_not_read() -> None:
    rng = np.random.default_rng(4)
    row = [*still(rng, 5.0, 20), 2.7, *still(rng, 0.0, 9), *np.linspace(0.0, -9.0, 20)]
    found = find_equalisation(*table(row), 0.0, 60.0, ())
    assert found is not None
    assert found[0] == pytest.approx(21 * BEAT_S, abs=0.01)


def test_a_step_that_bends_the_wave_is_the_vessel_and_not_the_gauge() -> None:
    rng = np.random.default_rng(5)
    row = still(rng, 0.1, 24) + still(rng, -12.0, 24)
    bent = [0.0] * 24 + [-5.0] * 24
    found = find_equalisation(*table(row, bent), 0.0, 60.0, ())
    assert found is not None  # the last stretch before the wire left
    assert found[1] == pytest.approx(24 * BEAT_S, abs=0.01)


def test_a_lesion_behind_which_the_gap_breathes_is_no_setting() -> None:
    # Past a severe stenosis with collaterals the gap steps nearly without a change of shape.
    rng = np.random.default_rng(8)
    breath = 0.7 * np.sin(np.arange(24) * 1.3)
    row = still(rng, 0.2, 24) + (-6.5 + breath).tolist()
    bent = [0.0] * 24 + [-0.35] * 24
    found = find_equalisation(*table(row, bent), 0.0, 60.0, ())
    assert found is not None
    assert found[1] == pytest.approx(24 * BEAT_S, abs=0.01)


def test_three_beats_before_the_setting_are_enough() -> None:
    rng = np.random.default_rng(9)
    breath = 0.7 * np.sin(np.arange(20) * 1.3)
    row = [*still(rng, 3.2, 3), 1.1, *still(rng, -0.4, 7), *(-6.2 + breath)]
    bent = [0.0, 0.0, 0.0, -0.9, *[0.0] * 7, *[-0.35] * 20]
    found = find_equalisation(*table(row, bent), 0.0, 60.0, ())
    assert found is not None
    assert found[0] == pytest.approx(4 * BEAT_S, abs=0.01)
    assert found[1] < 12 * BEAT_S


def test_gauges_that_agreed_are_read_before_the_wire_leaves() -> None:
    rng = np.random.default_rng(6)
    row = still(rng, 0.0, 24) + np.linspace(0.0, -5.0, 20).tolist() + still(rng, -5.0, 20)
    found = find_equalisation(*table(row), 0.0, 60.0, ())
    assert found is not None
    assert 10.0 < found[0] < found[1] < 24 * BEAT_S + 3.0


def test_gauges_set_equal_under_a_flush_are_read_after_it() -> None:
    rng = np.random.default_rng(7)
    row = [*still(rng, 4.0, 12), 30.0, 32.0, 25.0, *still(rng, 0.0, 30)]
    found = find_equalisation(*table(row), 0.0, 60.0, ((12 * BEAT_S, 15 * BEAT_S),))
    assert found is not None
    assert found[0] > 15 * BEAT_S + 2.9


def test_too_few_beats_are_not_read() -> None:
    assert find_equalisation(*table([0.0] * 5), 0.0, 60.0, ()) is None


@pytest.mark.parametrize("faults", [(), ("eq_offset",), ("pd_step",)])
def test_in_a_session_the_offset_read_is_the_one_put_in(faults: tuple[str, ...]) -> None:
    made = session("diffuse", 31, artefacts=faults, rate_hz=250.0)  # SIMULATED
    beats = find_beats(align(made.recording))
    quality = grade(align(made.recording), beats)
    event = next(e for e in made.truth["events"] if e["kind"] == "equalise")
    found = find_equalisation(beats, quality, 33.0, 100.0, ())
    assert found is not None
    assert found[0] == pytest.approx(event["t1"], abs=1.5)
    used = beats.between(*found)
    gap = float(np.mean((beats.pd_mean_mmhg - beats.pa_mean_mmhg)[used]))
    assert gap == pytest.approx(made.truth["equalisation_error_mmHg"], abs=0.3)
