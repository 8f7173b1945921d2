"""What the report says was tried, and what it says where no act would narrow anything."""

from dataclasses import replace

from arteriole.report.doubt import NO_ACT, section, untouched

SINGLE = "any single injection"


def rows(result):
    return [r for b in section(result).blocks for r in b.rows]


def test_where_nothing_narrows_the_doubt_the_report_says_so(full):
    assert NO_ACT in rows(replace(full, next_acts=()))
    assert NO_ACT not in rows(full)


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
