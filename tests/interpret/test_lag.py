"""The lag of the sensor is told where it alone keeps a number on its side; the pattern stays."""

from arteriole import interpret
from arteriole.indices import Evidence, InjectionEvidence, Pressures, compute
from arteriole.interpret.lag import lag_told
from arteriole.recording import Sheet

RULES = interpret.rule_table()


def rows(rest, hyper, lag_s=0.15):
    made = tuple(
        InjectionEvidence(
            label=f"{phase[0]}{k}", phase=phase, tmn_s=tmn, pa_before_mmhg=95.0, pd_before_mmhg=pd
        )
        for phase, tmn, pd in (("rest", rest, 92.0), ("hyperaemia", hyper, 88.0))
        for k in range(3)
    )
    evidence = Evidence(
        sheet=Sheet(sensor_lag_s=lag_s), injections=made,
        rest=Pressures(pa_mmhg=95.0, pd_mmhg=92.0), plateau=Pressures(pa_mmhg=92.0, pd_mmhg=88.0),
    )  # fmt: skip
    return evidence, {i.key: i for i in compute(evidence)}


def test_an_imr_that_only_the_lag_lifts_over_its_line_is_told_and_stays():
    # 88 * 0.35 = 30.8; without 0.15 s 88 * 0.20 = 17.6. CFR 0.8 / 0.35 = 2.29, without 3.25
    evidence, found = rows(0.80, 0.35)
    (told,) = lag_told(found, RULES)
    statement = interpret.state(tuple(found.values()), evidence.sheet, "steady", (), RULES)

    assert told.startswith("IMR (bolus) 30.8 is 17.6 with sensor lag 0.15 s taken out")
    assert "the value as read stands" in told
    assert told in statement.because
    assert statement.pattern == "raised resistance, preserved reserve"


def test_a_flow_reserve_that_only_the_lag_lowers_is_told():
    # 0.74 / 0.40 = 1.85; without 0.15 s 0.59 / 0.25 = 2.36; IMR 35.2 and 22.0
    _, found = rows(0.74, 0.40)

    assert [t.split(" is ")[0] for t in lag_told(found, RULES)] == [
        "CFR (bolus) 1.85", "IMR (bolus) 35.2",
    ]  # fmt: skip


def test_a_number_that_stays_on_its_side_needs_no_sentence():
    _, found = rows(1.60, 0.70)  # IMR 61.6, without the lag 48.4; CFR 2.29 and 2.64

    assert lag_told(found, RULES) == ()
