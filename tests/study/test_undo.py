"""Fifty mixed edits and their undoing give back the very bytes."""

from arteriole import __version__, document, simulate, study
from arteriole.recording import (
    EditRecord,
    Mark,
    MarkRemoved,
    MarkSet,
    RulesSet,
    SettingsSet,
    SheetSet,
    Undo,
    resolve,
)


def edits_of(result):
    times = [i.time_s for i in result.injections]
    kinds = [
        lambda k: SheetSet(field="vessel", value=["LAD", "RCA", "LCx"][k % 3]),
        lambda k: SheetSet(field="cvp_mmhg", value=float(3 + k % 5)),
        lambda k: SettingsSet(name="cfr_line", value=[2.0, 2.5][k % 2]),
        lambda k: RulesSet(rules=["default", "mrr", "cfr-2.5"][k % 3]),
        lambda k: MarkSet(
            id=f"injection@{times[k % len(times)]:.1f}",
            mark=Mark(kind="injection", time_s=times[k % len(times)], verdict="left out", why="x"),
        ),
        lambda k: MarkSet(
            id="rest@100.0", mark=Mark(kind="rest", start_s=100.0, end_s=118.0 + k % 5)
        ),
        lambda _k: MarkRemoved(id="rest@100.0"),
    ]
    return [kinds[k % len(kinds)](k) for k in range(50)]


def test_undoing_fifty_mixed_edits_restores_the_bytes():
    session = simulate.session("focal", 31)
    measurement = study.measure(session.recording, study.DEFAULT_SETTINGS)

    def written(records):
        e = resolve(session.sheet, records)
        result = study.decide(measurement, e.sheet, e.marks, e.settings, e.rules, __version__)
        return document.canonical_bytes(result)

    first = study.analyse(session.recording, session.sheet, measured=measurement)
    rows = [
        EditRecord(id=f"e{k}", edit=e, who="reader", when="2026-01-01T00:00:00Z", why="test")
        for k, e in enumerate(edits_of(first))
    ]
    undos = [
        EditRecord(
            id=f"u{k}", edit=Undo(edit_id=f"e{k}"), who="reader", when="2026-01-01T00:00:00Z",
            why="",
        )
        for k in reversed(range(len(rows)))
    ]  # fmt: skip

    assert written(rows) != written([])
    assert written([*rows, *undos]) == written([]) == document.canonical_bytes(first)
