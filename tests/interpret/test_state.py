"""Patterns by the published table: each row, near lines, spasm, what was not assessed."""

from dataclasses import replace

import pytest

from arteriole import interpret
from arteriole.errors import OptionError, UnknownKey
from arteriole.indices import (
    KEYS,
    Evidence,
    FlowEvidence,
    InjectionEvidence,
    Offset,
    Pressures,
    compute,
)
from arteriole.interpret.statement import Pattern
from arteriole.recording import Finding, Settings, Sheet
from arteriole.recording.sheet import Nitrate, SpasmStep

RULES = interpret.rule_table()
USUAL = {"symptoms": "usual", "ecg_change": True, "narrowing_percent": 95.0}


def typed(**values):
    return compute(Evidence(typed={k: (v, 0.0) for k, v in values.items()}))


def said(sheet=None, hyperaemia="typed", table=RULES, **values):
    return interpret.state(typed(**values), sheet or Sheet(), hyperaemia, (), table)


def step(**values):
    return Sheet(spasm_test=(SpasmStep(**values),))


# Rows of the table: Ong 2018 (CFR, IMR), Rahman 2020 (structural, functional)
@pytest.mark.parametrize(("values", "pattern"), [
    ({"ffr": 0.70}, "obstructive epicardial"),
    ({"ffr": 0.70, "imr_corrected": 40.0}, "epicardial and microvascular"),
    ({"ffr": 0.70, "imr_corrected": 15.0}, "obstructive epicardial"),
    ({"ffr": 0.70, "cfr_bolus": 1.2}, "obstructive epicardial"),
    ({"ffr": 0.92, "cfr_bolus": 1.4, "imr": 45.0}, "structural microvascular"),
    ({"ffr": 0.92, "cfr_bolus": 1.4, "imr": 12.0, "baseline_resistance_index": 20.0,
      "resting_pd_pa": 0.96}, "functional microvascular"),
    ({"ffr": 0.92, "cfr_bolus": 1.4, "imr": 12.0, "resting_pd_pa": 0.96}, "cannot say"),
    ({"ffr": 0.92, "cfr_bolus": 1.4, "imr": 12.0, "baseline_resistance_index": 20.0},
     "cannot say"),
    ({"ffr": 0.92, "cfr_bolus": 4.4, "imr": 45.0}, "raised resistance, preserved reserve"),
    ({"ffr": 0.92, "cfr_bolus": 4.4, "imr": 12.0}, "no abnormality measured"),
    ({"ffr": 0.92}, "no abnormality measured"),
    ({"cfr_bolus": 1.4, "imr": 45.0}, "cannot say"),
    ({"resting_pd_pa": 0.70}, "obstructive epicardial"),
    ({"late_diastolic_ratio": 0.80, "resting_pd_pa": 0.97}, "cannot say"),
    ({"ffr": 0.92, "mrr_continuous": 3.6}, "no abnormality measured"),
    ({"ffr": 0.92, "mrr_continuous": 1.4}, "cannot say"),
    ({}, "cannot say"),
])  # fmt: skip
def test_each_row_of_the_table_gives_its_pattern(values, pattern):
    assert said(**values).pattern == pattern


def test_ffr_as_printed_decides_and_the_table_is_named():
    assert said(ffr=0.804).pattern == "obstructive epicardial"
    assert said(ffr=0.806).pattern == "no abnormality measured"
    assert said(ffr=0.9).rules == "default 1"


def test_what_was_not_assessed_stands_in_the_same_sentence():
    statement = said(ffr=0.95)

    assert statement.not_assessed == ("microvascular function", "vasospasm")
    assert statement.sentence == (
        "No abnormality in what was measured; not assessed: microvascular function, vasospasm."
    )


def test_structural_is_worded_as_called_structural():
    assert "called structural" in said(ffr=0.92, cfr_bolus=1.4, imr=45.0).sentence


def test_ffr_near_its_line_with_a_resting_index_against_it_cannot_say():
    assert said(ffr=0.82, late_diastolic_ratio=0.84).pattern == "cannot say"
    clear = said(ffr=0.95, late_diastolic_ratio=0.84)
    assert clear.pattern == "no abnormality measured"
    assert any("disagree" in b for b in clear.because)


def test_functional_needs_steady_hyperaemia():
    values = {"ffr": 0.92, "cfr_bolus": 1.4, "imr": 12.0, "resting_pd_pa": 0.96,
              "baseline_resistance_index": 20.0}  # fmt: skip
    assert said(hyperaemia="steady", **values).pattern == "functional microvascular"
    assert said(hyperaemia="fading", **values).pattern == "cannot say"


def test_too_little_hyperaemia_does_not_pass_for_a_diseased_bed():
    finding = Finding(
        code="hyperaemia_submaximal", severity="caution", channel=None, start_s=None, end_s=None,
        message="", do="",
    )  # fmt: skip

    def pattern(**values):
        return interpret.state(typed(**values), Sheet(), "steady", (finding,), RULES).pattern

    assert pattern(ffr=0.95, cfr_bolus=1.3, imr=45.0) == "cannot say"
    assert pattern(ffr=0.95, cfr_bolus=4.4, imr=12.0) == "no abnormality measured"
    assert pattern(ffr=0.82, cfr_bolus=4.4, imr=12.0) == "cannot say"
    assert pattern(ffr=0.70, cfr_bolus=1.3) == "obstructive epicardial"


def test_boluses_without_any_effect_of_a_drug_say_nothing_of_the_bed():
    values = {"ffr": 0.95, "cfr_bolus": 1.0, "imr": 45.0, "tmn_hyper": 0.9, "resting_pd_pa": 0.97}
    assert said(hyperaemia="steady", **values).pattern == "structural microvascular"
    assert said(hyperaemia="not reached", **values).pattern == "cannot say"


# Ong 2018: all three criteria; symptoms and ECG without narrowing; two of three is inconclusive
@pytest.mark.parametrize(("criteria", "pattern"), [
    (USUAL, "epicardial spasm"),
    (USUAL | {"narrowing_percent": 30.0}, "microvascular spasm"),
    (USUAL | {"ecg_change": False}, "spasm test inconclusive"),
    (USUAL | {"symptoms": "none"}, "spasm test inconclusive"),
    (USUAL | {"narrowing_percent": None}, "spasm test inconclusive"),
    (USUAL | {"symptoms": "other", "ecg_change": False, "narrowing_percent": 20.0},
     "no abnormality measured"),
])  # fmt: skip
def test_the_spasm_test_by_its_three_criteria(criteria, pattern):
    assert said(step(**criteria), ffr=0.95, cfr_bolus=4.4, imr=12.0).pattern == pattern


def test_spasm_with_another_pattern_is_mixed():
    assert said(step(**USUAL), ffr=0.95, cfr_bolus=1.4, imr=45.0).pattern == "mixed"
    assert said(step(**USUAL), ffr=0.70).pattern == "mixed"


def test_nitrate_before_weakens_a_negative():
    sheet = replace(
        step(symptoms="none", ecg_change=False, narrowing_percent=10.0),
        nitrate=Nitrate(dose_ug=200.0), vessel="LAD", arteries_spasm_tested=("LAD",),
    )  # fmt: skip
    assert said(sheet, ffr=0.95).not_assessed[-1] == "vasospasm (weak negative)"


def test_tables_are_complete_and_an_unknown_name_lists_them():
    for table in interpret.RULES.values():
        keys = {r.key for r in (table.epicardial, *table.resting, *table.reserve,
                                *table.resistance, *table.corrected)}  # fmt: skip
        assert keys <= set(KEYS)
        assert table.sources
    with pytest.raises(UnknownKey, match=r"default, cfr-2\.5, mrr; choose"):
        interpret.rule_table("zz")
    own = interpret.own_rules({"name": "ours", "lines": {"cfr_bolus": 2.2}})
    assert said(table=own, ffr=0.95, cfr_bolus=2.1, imr=45.0).pattern == "structural microvascular"
    with pytest.raises(OptionError, match="allowed: baseline"):
        interpret.own_rules({"lines": {"zz": 2.2}})


def test_a_line_chosen_in_the_settings_decides_the_pattern_too():
    ours = Settings(version="ours", cfr_line=2.5)
    table = interpret.with_lines_of(RULES, ours)

    assert (
        said(table=table, ffr=0.95, cfr_bolus=2.2, imr=45.0).pattern == "structural microvascular"
    )
    assert said(ffr=0.95, cfr_bolus=2.2, imr=45.0).pattern != "structural microvascular"
    assert str(table) == "default 1 with settings ours"
    assert table.reserve[0].source == "settings ours"
    assert interpret.with_lines_of(RULES, Settings()) is RULES
    # a table chosen for its line keeps it
    assert (
        interpret.with_lines_of(interpret.rule_table("cfr-2.5"), Settings()).reserve[0].value == 2.5
    )


def bolus(onset=None, *, hyper=(0.24, 0.26, 0.25), rest=(0.95, 1.02, 1.0), **changed):
    rows = tuple(
        InjectionEvidence(
            label=f"{letter}{k}", phase=phase, tmn_s=t, pa_before_mmhg=pa, pd_before_mmhg=pd,
            tmn_onset_s=None if onset is None else t + onset,
        )
        for phase, letter, times, pa, pd in (
            ("rest", "R", rest, 95.0, 90.0), ("hyperaemia", "H", hyper, 90.0, 78.0),
        )
        for k, t in enumerate(times, 1)
    )  # fmt: skip
    whole = {
        "injections": rows, "rest": Pressures(pa_mmhg=95.0, pd_mmhg=90.0),
        "plateau": Pressures(pa_mmhg=90.0, pd_mmhg=78.0), "settings": Settings(draws=1000),
    } | changed  # fmt: skip
    return Evidence(**whole)


def test_both_conventions_across_a_line_cannot_say_with_both_values():
    evidence = bolus(onset=0.1)
    statement = interpret.state(compute(evidence), Sheet(), "steady", (), RULES)

    assert statement.pattern == "cannot say"
    assert any("19.5" in b and "27.3" in b for b in statement.because)


def turned(evidence):
    rows = compute(evidence)
    return interpret.flips(evidence, rows, "steady", (), RULES, interpret.RULES)


def test_the_smallest_drift_is_the_one_that_flips_and_not_less():
    near, over = (f for f in turned(bolus()) if f.what.startswith("FFR"))
    # 90/95 prints 0.91 after 0.0324 * 95 = 3.08 mmHg; FFR 0.83 is near its line then
    assert near.smallest_change == "Pd reading 3.1 mmHg too high"
    assert near.would_become == "FFR 0.83 near its line, resting Pd/Pa 0.91; cannot say"
    # 78/90 prints 0.87; below 0.805 needs more than 5.55 mmHg
    assert over.smallest_change == "Pd reading 5.6 mmHg too high"
    assert over.would_become.endswith("obstructive epicardial")


def test_an_injection_that_carries_the_pattern_is_named():
    found = turned(bolus(hyper=(0.30, 0.30, 0.37)))

    assert [f.smallest_change for f in found if f.what == "injection H3"] == [
        "leaving out H3 (0.37 s)"
    ]
    assert all(f.would_become in Pattern.__args__ for f in found if f.what == "injection H3")


def test_another_published_table_that_turns_the_pattern_is_named():
    evidence = bolus(rest=(0.55, 0.55, 0.55))
    found = [f for f in turned(evidence) if f.what == "rule table"]

    assert any("cfr-2.5" in f.smallest_change for f in found)


def test_a_convention_that_turns_the_pattern_is_named_for_all_indices_at_once():
    # IMR 19.5 by mean passage, 27.3 by onset; CFR 3.96 and 3.1
    found = {f.smallest_change: f for f in turned(bolus(onset=0.10)) if f.what == "reading"}

    one = found["onset convention in place of ours"]
    assert one.would_become == "IMR (bolus) 27.3; raised resistance, preserved reserve"


def test_a_drift_that_was_read_and_left_in_turns_the_statement_when_removed():
    evidence = replace(
        bolus(),
        plateau=Pressures(pa_mmhg=90.0, pd_mmhg=73.5),
        rest=Pressures(pa_mmhg=95.0, pd_mmhg=88.0),
        drift=Offset(state="off", offset_mmhg=3.0, sd_mmhg=0.2),
    )
    found = [f for f in turned(evidence) if f.smallest_change.startswith("drift removed")]

    assert [f.would_become for f in found] == [
        "resting Pd/Pa 0.89, FFR 0.78; obstructive epicardial"
    ]


def test_no_value_without_a_side_is_called_a_reading():
    sheet = Sheet(sensor_lag_s=0.15)
    changes = [f.smallest_change for f in turned(bolus(rest=(0.47, 0.47, 0.47), sheet=sheet))]

    assert not any("lag" in c or c.startswith("without") for c in changes)


def test_the_smallest_error_of_continuous_flow_that_turns_the_pattern_is_told():
    # MRR 3.0 * 95/90 = 3.17; at or below 2.7 it no longer excludes: 15 % lower flow
    flows = tuple(
        FlowEvidence(phase=phase, q_ml_min=q, pa_mmhg=95.0, pd_mmhg=90.0)
        for phase, q in (("rest", 80.0), ("hyperaemia", 240.0))
    )
    found = [f for f in turned(bolus(injections=(), flows=flows)) if "flow" in f.what]

    assert [(f.what, f.would_become) for f in found] == [
        ("continuous flow in hyperaemia", "cannot say")
    ]
    assert found[0].smallest_change in {"14 % lower", "15 % lower"}


def test_an_act_that_leaves_the_convention_open_says_so():
    evidence = bolus(onset=0.10, hyper=(0.22, 0.30, 0.26))
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert any("the time-zero convention stays open" in a.gain for a in acts if "IMR" in a.gain)


def test_behind_a_stenosis_acts_narrow_what_decides_there():
    # FFR 0.70; IMR by the Yong form 27 U decides, CFR does not
    row = tuple(
        replace(i, pa_before_mmhg=95.0, pd_before_mmhg=68.0) for i in
        bolus(rest=(0.6, 0.7, 0.65), hyper=(0.40, 0.52, 0.44)).injections
    )  # fmt: skip
    evidence = replace(bolus(), injections=row, plateau=Pressures(pa_mmhg=95.0, pd_mmhg=66.5))
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert any("narrows IMR, Yong form" in a.gain for a in acts)
    assert not any("CFR" in a.gain for a in acts)


def test_a_sixth_injection_is_not_asked_for():
    evidence = bolus(hyper=(0.22, 0.30, 0.26, 0.24, 0.28))
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert not any("in hyperaemia" in a.do for a in acts)


def test_a_gain_too_small_to_print_is_not_named():
    evidence = bolus(rest=(0.50, 0.50, 0.50), hyper=(0.26, 0.26, 0.26))  # CFR 1.92
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    for act in acts:
        before, after = act.gain.split(" from ")[1].split(";")[0].split(",")[0].split(" to about ")
        assert before != after


def test_the_injection_to_be_made_again_is_named():
    row = bolus(hyper=(0.22, 0.30, 0.26)).injections
    again = (*row[:5], replace(row[5], verdict="repeat"))
    evidence = bolus(injections=again, plateau=Pressures(pa_mmhg=90.0, pd_mmhg=74.0))
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert "Repeat H3: one more injection in hyperaemia." in [a.do for a in acts]


def test_the_next_act_is_computed_names_its_cost_and_asks_for_no_drug():
    evidence = bolus(hyper=(0.22, 0.30, 0.26), plateau=Pressures(pa_mmhg=90.0, pd_mmhg=74.0))
    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert acts
    assert all("cost:" in a.gain for a in acts)
    assert acts[0].do.startswith("Compare the gauges")
    assert "narrows FFR from ±" in acts[0].gain
    words = " ".join(a.do for a in acts).lower()
    assert not any(w in words for w in ("dose", "adenosine", "acetylcholine", "longer", "cross"))


def test_a_drift_check_done_is_not_asked_for_again():
    evidence = bolus(drift=Offset(state="matched", offset_mmhg=0.1, sd_mmhg=0.2))

    acts = interpret.next_acts(evidence, compute(evidence), RULES)

    assert not any("gauges" in a.do for a in acts)
