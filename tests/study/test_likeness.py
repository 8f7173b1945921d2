"""The likeness of a set is told by its spread and its rule, never by leaving one out."""

from types import SimpleNamespace

import numpy as np
import pytest

from arteriole.recording import Settings
from arteriole.study.likeness import likeness_of, rule_of
from arteriole.thermo import BolusReading, grade_injections


def row(times, verdicts=None, phase="rest"):
    letter = "R" if phase == "rest" else "H"
    return [
        SimpleNamespace(
            label=f"{letter}{k}", phase=phase, tmn_s=t, verdict=(verdicts or {}).get(k, "usable")
        )
        for k, t in enumerate(times, 1)
    ]


def test_spread_and_the_farthest_are_of_the_median():
    # median 1.00; 1.20 - 0.95 is 25 %; R3 lies 20 % above
    (one,) = likeness_of(row([0.95, 1.00, 1.20]), Settings())

    assert (one.phase, one.read, one.used) == ("rest", 3, 3)
    assert one.median_s == 1.00
    assert one.range_percent == pytest.approx(25.0)
    assert one.farthest == "R3"
    assert one.farthest_percent == pytest.approx(20.0)


def test_an_injection_left_out_stays_in_sight():
    (one,) = likeness_of(row([1.00, 1.02, 1.60], {3: "left out"}), Settings())

    assert (one.read, one.used) == (3, 2)
    assert one.range_percent == pytest.approx(100 * 0.02 / 1.01)
    assert one.farthest == "R3"


def test_a_lone_injection_has_no_likeness_and_states_stay_apart():
    rest, hyper = likeness_of(row([1.0]) + row([0.3, 0.3], phase="hyperaemia"), Settings())

    assert (rest.used, rest.range_percent, rest.farthest) == (1, None, None)
    assert hyper.range_percent == 0.0
    assert likeness_of(row([None]), Settings()) == ()


def test_the_rule_is_the_laboratorys_own_and_is_printed():
    own = Settings(version="ours", alike_fraction=0.15, repeat_fraction=0.25)

    assert rule_of(own).startswith("alike within 15 % of the median")
    assert "repeat beyond" in rule_of(Settings())
    assert likeness_of(row([1.0, 1.0]), own)[0].rule == rule_of(own)


# Cost of the rule on sound sets of three, decision 0004: arithmetic by simulation
@pytest.mark.parametrize(("spread", "fraction", "flagged", "repeat"), [
    (0.10, 0.20, 0.14, 0.02), (0.15, 0.20, 0.39, 0.14), (0.10, 0.15, 0.31, 0.02),
])  # fmt: skip
def test_the_rule_costs_what_its_record_says(spread, fraction, flagged, repeat):
    rng = np.random.default_rng(1)
    settings = Settings(version="ours", alike_fraction=fraction)
    worst = []
    for times in 1.0 + spread * rng.standard_normal((1500, 3)):
        readings = [
            BolusReading(
                time_s=30.0 * k, end_s=30.0 * k + 10.0, zero_s=30.0 * k, time_zero="shaft",
                tmn_s=max(float(t), 0.05), tmn_onset_s=None,
            )
            for k, t in enumerate(times)
        ]  # fmt: skip
        verdicts = [v for v, _ in grade_injections(readings, ["rest"] * 3, settings)]
        worst.append(max(verdicts, key=("usable", "look again", "repeat").index))

    assert sum(w != "usable" for w in worst) / 1500 == pytest.approx(flagged, abs=0.03)
    assert worst.count("repeat") / 1500 == pytest.approx(repeat, abs=0.02)
