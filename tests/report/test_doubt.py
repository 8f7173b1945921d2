"""What the report says was tried, and what it says where no act would narrow anything."""

from dataclasses import replace

from arteriole.report.doubt import NO_ACT, section, untouched

SINGLE = "any single injection"


def rows(result):
    return [r for b in section(result).blocks for r in b.rows]


def test_where_nothing_narrows_the_doubt_the_report_says_so(full):
    near = replace(full.statement, because=("FFR 0.81: does not meet ≤ 0.80, near the line.",))
    doubtful = replace(full, statement=near, next_acts=())
    assert NO_ACT in rows(doubtful)
    assert NO_ACT not in rows(replace(doubtful, next_acts=full.next_acts))
    assert full.next_acts


def test_where_every_deciding_number_is_clear_no_open_doubt_is_claimed(full):
    clear = replace(full.statement, because=("FFR 0.70: meets ≤ 0.80 [FFRReview2018].",))
    assert NO_ACT not in rows(replace(full, statement=clear, next_acts=()))
    unsaid = replace(clear, pattern="cannot say")
    assert NO_ACT in rows(replace(full, statement=unsaid, next_acts=()))


def test_of_typed_numbers_no_act_was_tried_and_none_is_claimed(full):
    typed = replace(full, next_acts=(), recording=replace(full.recording, format="typed"))

    assert NO_ACT not in rows(typed)


def test_nothing_is_said_where_there_is_no_number(poor):
    assert rows(poor) == []


def test_a_lone_injection_was_never_left_out_and_is_not_claimed(full):
    first = next(i for i in full.injections if i.phase == "rest")
    others = tuple(i for i in full.injections if i.phase == "hyperaemia")

    assert SINGLE in untouched(full)
    assert f"{SINGLE} in hyperaemia" in untouched(replace(full, injections=(first, *others)))
    lone = untouched(replace(full, injections=(first, others[0])))
    assert not any(u.startswith(SINGLE) for u in lone)


def test_a_typed_resistance_without_pd_was_not_moved_and_no_offset_is_claimed(full):
    typed = replace(full.index("imr"), inputs={})
    resting = full.index("resting_pd_pa")
    bare = replace(full, haemodynamics={}, flips=(), indices=(resting, typed))

    assert not any("gauge offset" in u for u in untouched(bare))
    known = replace(bare, indices=(resting, typed, full.index("ffr")))
    assert any("gauge offset" in u for u in untouched(known))
