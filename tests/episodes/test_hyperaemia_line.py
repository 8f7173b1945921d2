"""Signs, range and dispersion of the plateau say one thing, and what they are named for."""

import numpy as np
import pytest

from arteriole.episodes.findings import findings_of
from arteriole.episodes.gauge import Gauge
from arteriole.episodes.hyperaemia import Stretch
from arteriole.episodes.hyperaemia_doubt import Doubt
from arteriole.episodes.hyperaemia_line import (
    OPEN_FURTHER,
    Shapes,
    rise_of,
    signs_of,
    signs_of_doubt,
    summed_up,
)
from arteriole.recording import Settings

from .courses import arrival, beats, trend

T = np.arange(0.0, 0.2, 0.005)
STEADY = (Stretch(start_s=110.0, end_s=200.0, state="steady"),)


@pytest.mark.parametrize("tau_s", [0.6, 0.3, 0.15])
def test_a_wave_that_only_falls_has_no_notch_however_steep(tau_s: float) -> None:
    assert rise_of(80.0 + 40.0 * np.exp(-T / tau_s)) == 0.0


def test_a_notch_is_as_deep_as_the_wave_rises_again() -> None:
    fall = np.interp(T, [0.0, 0.06, 0.10, 0.20], [100.0, 88.0, 92.0, 80.0])
    assert rise_of(fall) == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("rest", "plateau", "lost"), [(4.0, 0.0, True), (4.0, 3.5, False), (0.3, 0.0, None),
                                  (None, 2.0, None), (4.0, None, None)]
)  # fmt: skip
def test_the_notch_is_lost_only_where_rest_had_one(
    rest: float | None, plateau: float | None, lost: bool | None
) -> None:
    t = beats()
    whole = trend(arrival(t), t)
    shapes = [Shapes(pulse_mmhg=40.0, notch_mmhg=n) for n in (rest, plateau)]
    rows = {
        s.name: s.present
        for s in signs_of(whole.between(0.0, 70.0), whole.between(120.0, 200.0), *shapes)
    }
    assert rows["distal notch lost"] is lost


@pytest.mark.parametrize("opened", [0.02, 0.12, 0.9])
def test_sign_and_finding_agree_on_what_injections_opened(opened: float) -> None:
    doubt = Doubt(verdict="submaximal", opened=opened)
    (sign,) = signs_of_doubt(doubt)
    assert sign.name == OPEN_FURTHER
    assert sign.present is False
    t = beats()
    seen = summed_up(STEADY, trend(arrival(t), t).between(120.0, 200.0), (sign,), doubt)
    said = [f.message for f in findings_of((), (), Gauge(), seen, None, Settings())
            if f.code == "hyperaemia_submaximal"]  # fmt: skip
    assert ("of the effect" in said[0]) is (opened > 0.05)


def test_range_and_dispersion_describe_one_row() -> None:
    t = beats()
    plateau = trend(arrival(t), t).between(120.0, 200.0)
    got = summed_up(STEADY, plateau, (), None)
    assert got.range_ratio is not None
    assert got.dispersion_percent is not None
    # The mean distance from the median cannot exceed the range of nearly all.
    assert got.dispersion_percent / 100.0 * float(np.median(plateau.level)) < got.range_ratio
    told = Doubt(verdict="full", swing=0.031, dispersion=1.2)
    both = summed_up(STEADY, plateau, (), told)
    assert (both.range_ratio, both.dispersion_percent) == (0.031, 1.2)
