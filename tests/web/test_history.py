"""Undo and redo without limit, read off the ledger alone."""

from hypothesis import given
from hypothesis import strategies as st

from arteriole.recording import EditRecord, SheetSet, Undo
from arteriole.recording.edit import standing
from arteriole.web.history import history_of


def line(key, edit):
    return EditRecord(id=key, edit=edit, who="ab", when="", why="")


def written(k):
    return line(f"e{k}", SheetSet(field="vessel", value=f"v{k}"))


def test_undo_and_redo_walk_back_and_forth():
    rows = [written(0), written(1)]
    rows.append(line("u0", Undo(edit_id=history_of(rows).undo)))
    assert history_of(rows).undo == "e0"
    assert history_of(rows).redo == "u0"
    rows.append(line("u1", Undo(edit_id="u0")))
    assert [r.id for r in history_of(rows).done] == ["e0", "e1"]
    assert history_of(rows).redo is None


def test_a_new_edit_empties_the_redo_stack():
    rows = [written(0), line("u0", Undo(edit_id="e0")), written(1)]

    assert history_of(rows).redo is None


@given(st.lists(st.sampled_from(["edit", "undo", "redo"]), max_size=60))
def test_what_can_be_undone_is_what_stands(acts):
    rows = []
    for n, act in enumerate(acts):
        history = history_of(rows)
        if act == "edit":
            rows.append(written(n))
        elif act == "undo" and history.undo:
            rows.append(line(f"u{n}", Undo(edit_id=history.undo)))
        elif act == "redo" and history.redo:
            rows.append(line(f"u{n}", Undo(edit_id=history.redo)))
        assert {r.id for r in history_of(rows).done} == {r.id for r in standing(rows)}


@given(st.integers(1, 50))
def test_undo_to_the_start_and_redo_to_the_end(n):
    rows = [written(k) for k in range(n)]
    full = standing(rows)
    for k in range(n):
        rows.append(line(f"u{k}", Undo(edit_id=history_of(rows).undo)))
    assert standing(rows) == ()
    for k in range(n):
        rows.append(line(f"r{k}", Undo(edit_id=history_of(rows).redo)))
    assert standing(rows) == full
