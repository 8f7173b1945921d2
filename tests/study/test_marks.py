"""A person's word stands above what was found."""

from arteriole.episodes.episode import Episode
from arteriole.recording import Mark
from arteriole.study.marks import injection_marks, marked_episodes


def found(kind, start_s, end_s):
    return Episode(kind=kind, start_s=start_s, end_s=end_s)


def test_a_marked_rest_replaces_the_found_one_wherever_it_was():
    rest = Mark(kind="rest", start_s=80.0, end_s=104.0)
    got = marked_episodes([found("rest", 10.0, 20.0), found("flush", 30.0, 32.0)], [rest])

    assert [(e.kind, e.start_s, e.source) for e in got] == [
        ("flush", 30.0, "found"),
        ("rest", 80.0, "marked"),
    ]


def test_a_marked_flush_replaces_only_what_it_overlaps():
    flushes = [found("flush", 10.0, 12.0), found("flush", 30.0, 32.0)]
    got = marked_episodes(flushes, [Mark(kind="flush", start_s=31.0, end_s=35.0)])

    assert [(e.start_s, e.source) for e in got] == [(10.0, "found"), (31.0, "marked")]


def test_a_stretch_without_length_is_ignored():
    assert marked_episodes([], [Mark(kind="rest", start_s=5.0, end_s=5.0)]) == ()


def test_a_mark_near_a_found_injection_speaks_of_it():
    out = Mark(kind="injection", time_s=101.0, verdict="left out", why="cough")
    of_found, new = injection_marks([100.0, 120.0], [out])

    assert of_found == {0: out}
    assert new == ()


def test_a_mark_far_from_any_is_a_new_injection():
    mark = Mark(kind="injection", time_s=110.0, label="R9")
    of_found, new = injection_marks([100.0, 120.0], [mark])

    assert of_found == {}
    assert [m.time_s for m in new] == [110.0]


def test_nothing_new_is_made_only_to_be_left_out():
    mark = Mark(kind="injection", time_s=110.0, verdict="left out")

    assert injection_marks([100.0], [mark]) == ({}, ())
