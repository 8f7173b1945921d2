"""Acts that need no drug of their own: what a run recorded again would narrow, and at what cost."""

from dataclasses import fields, replace

import numpy as np

from arteriole import interpret
from arteriole.indices import Evidence, InjectionEvidence, Offset, Pressures, Withheld, compute
from arteriole.recording import Settings
from arteriole.signal.beats import Beats

RULES = interpret.rule_table()
EQUALISE = "If hyperaemia is recorded again, equalise"
FULL = "If hyperaemia is recorded again, read only once it is full"
DRUG_WORDS = ("dose", "adenosine", "acetylcholine", "longer", "cross", "more drug", "mcg")


def narrowed(**changed):
    """FFR 0.60; IMR by the Yong form 27.6, near its line; both kinds of injections steady."""
    row = tuple(
        InjectionEvidence(
            label=f"{letter}{k}", phase=phase, tmn_s=t, pa_before_mmhg=95.0, pd_before_mmhg=pd
        )
        for phase, letter, times, pd in (
            ("rest", "R", (0.60, 0.62, 0.61), 80.0), ("hyperaemia", "H", (0.44, 0.46, 0.45), 68.0),
        )
        for k, t in enumerate(times, 1)
    )  # fmt: skip
    whole = {
        "injections": row, "rest": Pressures(pa_mmhg=95.0, pd_mmhg=71.0),
        "plateau": Pressures(pa_mmhg=95.0, pd_mmhg=57.0), "settings": Settings(draws=1000),
        "equalisation": Offset(state="matched", offset_mmhg=0.1, sd_mmhg=0.2),
        "drift": Offset(state="matched", offset_mmhg=0.1, sd_mmhg=0.2),
    } | changed  # fmt: skip
    return Evidence(**whole)


def acts(evidence):
    return interpret.next_acts(evidence, compute(evidence), RULES)


def test_a_drift_that_carries_the_doubt_asks_for_equalising_anew():
    off = Offset(state="off", offset_mmhg=-9.4, sd_mmhg=0.2)
    found = acts(narrowed(drift=off))

    assert found[0].do.startswith(EQUALISE)
    assert found[0].gain.startswith("narrows IMR, Yong form (bolus) from ±")
    assert "cost: half a minute for each check, and a whole run more" in found[0].gain
    before, after = (
        float(part) for part in
        found[0].gain.split("from ±")[1].split(";")[0].split(" to about ±")
    )  # fmt: skip
    # 9.4 / sqrt(3) mmHg of Pd is 5.4 * 1.35 * 0.45 = 3.3 U: 6.5 U of half-width go
    assert before > 6.0
    assert after < 3.0
    words = " ".join(f"{a.do} {a.gain}" for a in found).lower()
    assert not any(w in words for w in DRUG_WORDS)


def test_good_checks_ask_for_no_others():
    assert not any(a.do.startswith(EQUALISE) for a in acts(narrowed()))


def test_a_missing_check_is_asked_for_not_a_whole_run():
    found = acts(narrowed(drift=Offset()))

    assert found[0].do.startswith("Compare the gauges")
    assert not any(a.do.startswith(EQUALISE) for a in found)


def test_equalising_anew_is_tried_at_rest_where_rest_is_all_there_is():
    rest = Pressures(pa_mmhg=95.0, pd_mmhg=86.0, ratio_sd={"pd_pa": 0.003})
    off = Offset(state="off", offset_mmhg=2.5, sd_mmhg=0.2)
    found = acts(narrowed(rest=rest, plateau=None, injections=(), drift=off))

    assert found[0].do.startswith("If rest is recorded again, equalise")
    assert "narrows resting Pd/Pa from ±" in found[0].gain


def test_hyperaemia_that_was_not_even_is_told_to_be_read_once_it_is():
    plateau = Pressures(pa_mmhg=95.0, pd_mmhg=74.0)  # 0.78
    found = acts(narrowed(plateau=plateau, uneven_sd=0.02))

    assert found[0].do.startswith(FULL)
    assert found[0].gain.startswith("narrows FFR from ±0.04")
    assert not any(a.do.startswith(FULL) for a in acts(narrowed(plateau=plateau)))


def test_hyperaemia_that_was_not_full_leaves_a_bound_that_a_full_one_makes_a_side():
    # reserve 0.73 / 0.41 = 1.78 is at least that: full, it may be on the other side
    times = {"R": (0.72, 0.74, 0.73), "H": (0.40, 0.42, 0.41)}
    row = tuple(
        replace(i, tmn_s=times[i.label[0]][int(i.label[1]) - 1]) for i in narrowed().injections
    )
    flat = narrowed(
        plateau=Pressures(pa_mmhg=95.0, pd_mmhg=91.0), rest=Pressures(pa_mmhg=95.0, pd_mmhg=93.0),
        not_full=True, injections=row,
    )  # fmt: skip
    found = acts(flat)

    assert found[0].do.startswith(FULL)
    assert "a side; now it is only a bound" in found[0].gain


def test_rest_that_is_not_proven_is_waited_for():
    beats = Beats(**{
        **{f.name: np.empty(0) for f in fields(Beats)},
        "rate_hz": 250.0, "delay_s": 0.0, "delay_sd_s": 0.0,
    })  # fmt: skip
    refusal = Withheld(reason="No stretch of proven rest was found.", do="Mark the rest.")
    found = acts(narrowed(beats=beats, clean=np.empty(0, bool), rest=None,
                          refusals={"rest": refusal}))  # fmt: skip

    assert any(a.do.startswith("Wait for quiet beats before any drug") for a in found)
