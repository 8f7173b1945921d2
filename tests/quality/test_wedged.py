"""A guide that blocks the ostium, told from what else lowers Pa."""

from dataclasses import fields, replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arteriole.quality import Scene, grade, wedged
from arteriole.signal import Beats, align, find_beats
from arteriole.simulate.draw import draw
from arteriole.simulate.session import session_of

ALL, INSIDE = 60, slice(30, 42)  # beats, and those behind the blocked ostium


def rows(
    *, mean: float = 0.70, low: float = 0.55, high: float = 0.85, pd: float = 0.72,
    length: float = 1.0, inside: slice = INSIDE,
) -> Beats:  # fmt: skip
    """Beats of 0.8 s at 92 (120/70) and Pd 85 mmHg that breathe; factors on those inside."""
    n = ALL
    breath = 1.0 + 0.03 * np.sin(2.0 * np.pi * np.arange(n) / 5.0)
    factor = {"pa_mean": mean, "pa_diastolic": low, "pa_systolic": high, "pd_mean": pd}
    level = {"pa_mean": 92.0, "pa_diastolic": 70.0, "pa_systolic": 120.0, "pd_mean": 85.0}
    made: dict[str, Any] = {f.name: np.zeros(n) for f in fields(Beats)}
    for name, usual in level.items():
        row = usual * breath
        row[inside] *= factor[name]
        made[f"{name}_mmhg"] = row
    long = np.full(n, 0.8)
    long[inside] *= length
    end = np.cumsum(long)
    made |= {"start_s": end - long, "end_s": end, "on_pd": np.zeros(n, dtype=bool)}
    made |= {"rate_hz": 250.0, "delay_s": 0.0, "delay_sd_s": 0.0}
    return Beats(**made)


def blocked(beats: Beats) -> np.ndarray:
    scene = cast("Scene", SimpleNamespace(beats=beats))
    seen = wedged.detect(scene, np.ones(beats.count, dtype=bool))
    return np.zeros(beats.count, dtype=bool) if seen.pa_bad is None else seen.pa_bad


def test_the_low_beats_and_no_others_are_left_out() -> None:
    assert np.flatnonzero(blocked(rows())).tolist() == list(range(30, 42))


@pytest.mark.parametrize(
    ("what", "beats"),
    [
        ("a flush leaves Pd as it is", rows(pd=1.0)),
        ("a weak heart lowers systole first", rows(low=0.9, high=0.65)),
        ("slow beats are no blocked ostium", rows(length=2.0)),
        ("it does not come back within the recording", rows(inside=slice(30, ALL))),
        ("smaller than what breathing does", rows(mean=0.96, low=0.95, high=0.97, pd=0.96)),
        ("two beats may be extra ones", rows(inside=slice(30, 32))),
    ],
)
def test_what_else_lowers_pa_is_not_taken_for_it(what: str, beats: Beats) -> None:
    assert not blocked(beats).any(), what


@pytest.mark.parametrize("phase", range(5))
@pytest.mark.parametrize("beats_wide", [8.0, 12.0])
def test_a_slow_fall_and_return_is_the_drug_or_the_patient(phase: int, beats_wide: float) -> None:
    beats = rows(mean=1.0, low=1.0, high=1.0, pd=1.0)
    far = (np.arange(ALL) - 35.0 + phase) / beats_wide
    dip = np.exp(-0.4 * np.exp(-0.5 * far**2))
    names = ("pa_mean_mmhg", "pa_diastolic_mmhg", "pa_systolic_mmhg", "pd_mean_mmhg")
    assert not blocked(replace(beats, **{k: getattr(beats, k) * dip for k in names})).any()


@given(st.floats(0.6, 1.6))
@settings(deadline=None, max_examples=25)
def test_a_gain_of_both_gauges_changes_nothing(gain: float) -> None:
    beats = rows()
    names = ("pa_mean_mmhg", "pa_diastolic_mmhg", "pa_systolic_mmhg", "pd_mean_mmhg")
    other = replace(beats, **{k: gain * getattr(beats, k) for k in names})
    assert blocked(other).tolist() == blocked(beats).tolist()


@pytest.mark.parametrize(
    ("seed", "why_hidden"),
    [
        (7043, "fibrillation, and a range cut at the peaks"),
        (7075, "a fall so deep that it looks like a flush"),
        (7085, "a range cut at the peaks, so that only the low beats are whole"),
        (7119, "extra beats inside, and an air bubble"),
    ],
)
def test_another_fault_does_not_hide_a_blocked_ostium(seed: int, why_hidden: str) -> None:
    drawn = draw(seed)
    faults = tuple(sorted({*drawn.artefacts, "guide_wedge", "wire_migration"}))
    made = session_of(replace(drawn, artefacts=faults))
    ((start, end),) = made.truth["artefact_details"]["guide_wedge"]["spans"]
    grid = align(made.recording)
    quality = grade(grid, find_beats(grid))
    told = [f for f in quality.findings if f.code == wedged.CODE]
    assert len(told) == 1, why_hidden
    assert told[0].start_s == pytest.approx(start, abs=2.0)
    assert told[0].end_s == pytest.approx(end, abs=2.0)
