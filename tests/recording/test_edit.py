"""Edits resolve to one effective sheet; undo restores it, redo brings it back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arteriole.errors import SheetInvalid
from arteriole.recording import (
    EditRecord,
    Mark,
    MarkRemoved,
    MarkSet,
    RulesSet,
    SettingsSet,
    Sheet,
    SheetSet,
    Undo,
    resolve,
)  # fmt: skip


def record(number: int, edit) -> EditRecord:
    return EditRecord(id=f"e{number}", edit=edit, who="reader", when="2026-01-01T00:00:00Z", why="")


def test_an_undone_edit_leaves_no_trace():
    before = resolve(Sheet(vessel="LAD"), [])
    after = resolve(
        Sheet(vessel="LAD"),
        [record(1, SheetSet(field="vessel", value="RCA")), record(2, Undo(edit_id="e1"))],
    )

    assert after == before


def test_undoing_an_undo_is_a_redo():
    rows = [
        record(1, SheetSet(field="vessel", value="RCA")),
        record(2, Undo(edit_id="e1")),
        record(3, Undo(edit_id="e2")),
    ]

    assert resolve(Sheet(vessel="LAD"), rows).sheet.vessel == "RCA"


def test_a_mark_replaces_the_one_with_its_identity():
    first = Mark(kind="injection", time_s=10.0, verdict="left out", why="cough")
    second = Mark(kind="injection", time_s=10.0, verdict="usable")
    rows = [
        record(1, MarkSet(id="injection@10.0", mark=first)),
        record(2, MarkSet(id="injection@10.0", mark=second)),
    ]

    assert resolve(Sheet(), rows).marks == (second,)
    assert resolve(Sheet(), [*rows, record(3, MarkRemoved(id="injection@10.0"))]).marks == ()


def test_settings_and_rules_follow():
    rows = [record(1, SettingsSet(name="cfr_line", value=2.5)), record(2, RulesSet(rules="other"))]
    effective = resolve(Sheet(), rows)

    assert (effective.settings.cfr_line, effective.settings.version) == (2.5, "custom")
    assert effective.rules == "other"


def test_an_unknown_field_is_named():
    with pytest.raises(SheetInvalid, match="vesel"):
        resolve(Sheet(), [record(1, SheetSet(field="vesel", value="LAD"))])


EDITS = st.one_of(
    st.builds(SheetSet, field=st.just("vessel"), value=st.sampled_from(["LAD", "RCA", None])),
    st.builds(SettingsSet, name=st.just("cfr_line"), value=st.sampled_from([2.0, 2.5, None])),
    st.builds(RulesSet, rules=st.sampled_from(["default", "other"])),
    st.builds(
        MarkSet,
        id=st.sampled_from(["rest@1.0", "rest@2.0"]),
        mark=st.builds(Mark, kind=st.just("rest"), start_s=st.just(1.0), end_s=st.just(9.0)),
    ),
)


@given(st.lists(EDITS, min_size=1, max_size=20))
def test_undoing_everything_backwards_restores_the_start(edits):
    rows = [record(k, e) for k, e in enumerate(edits)]
    undos = [record(100 + k, Undo(edit_id=f"e{k}")) for k in reversed(range(len(edits)))]

    assert resolve(Sheet(vessel="LCx"), [*rows, *undos]) == resolve(Sheet(vessel="LCx"), [])
