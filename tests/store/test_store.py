"""What the store promises: whole or not at all, append-only, in order, nothing lost."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import DatabaseError

from arteriole.errors import OptionError, SheetInvalid, UnknownKey, UnreadableRecording
from arteriole.recording import (
    Channel,
    Mark,
    MarkRemoved,
    MarkSet,
    Recording,
    RulesSet,
    SettingsSet,
    Sheet,
    SheetSet,
    Undo,
    resolve,
)
from arteriole.store import edit_from_mapping, edit_to_mapping, open_store
from arteriole.store.engine import migrate
from arteriole.store.schema import UtcTime
from arteriole.store.vault import content_of

EDITS = (
    MarkSet(id="rest@80.0", mark=Mark(kind="rest", start_s=80.0, end_s=104.0)),
    MarkSet(id="injection@1.0",
            mark=Mark(kind="injection", time_s=1.0, verdict="left out", why="x")),
    MarkRemoved(id="rest@80.0"), SheetSet(field="vessel", value="LAD"),
    SheetSet(field="spasm_test", value=[{"agent": "acetylcholine", "dose_ug": 20.0}]),
    SettingsSet(name="cfr_line", value=2.5), RulesSet(rules="default"), Undo(edit_id="abc"),
)  # fmt: skip


def recording_of(file: Path) -> Recording:
    channel = Channel(name="pa", unit="mmHg", rate_hz=10.0, values=np.arange(50.0))
    return Recording(name=file.name, sha256=content_of([file]), format="csv", channels=(channel,))


@pytest.fixture
def store(tmp_path):
    one = open_store(str(tmp_path / "kept" / "store.db"))
    yield one
    one.close()


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "ramp.csv"
    path.write_text("time_s,pa_mmHg\n0,80\n")
    return path


@pytest.fixture
def study(store, file):
    return store.add_study(recording_of(file), [file], sheet=Sheet(vessel="RCA"), who="ab")


def test_a_study_comes_back_as_it_was_given(store, study, file):
    again = store.study(study.id)
    assert again == study
    assert again.title == "ramp.csv"
    assert again.state == "gathering"
    assert store.first_sheet(study.id) == Sheet(vessel="RCA")
    assert store.main_file(study.id).read_bytes() == file.read_bytes()


def test_bytes_are_kept_once_and_read_only(store, study, file, tmp_path):
    second = store.add_study(recording_of(file), [file], sheet=Sheet(), who="ab")
    assert store.main_file(second.id) == store.main_file(study.id)
    assert sum(p.is_file() for p in (tmp_path / "kept" / "recordings").rglob("*")) == 1
    assert not store.main_file(study.id).stat().st_mode & 0o222


def test_a_failed_import_leaves_no_file_behind(store, file, tmp_path, monkeypatch):
    def broken(*_args, **_kwargs):
        raise RuntimeError("no disk")

    monkeypatch.setattr("arteriole.store.studies.put_study", broken)
    with pytest.raises(RuntimeError):
        store.add_study(recording_of(file), [file], sheet=Sheet(), who="ab")
    assert not [p for p in (tmp_path / "kept" / "recordings").rglob("*") if p.is_file()]
    assert store.studies() == ()


def test_every_kind_of_edit_survives_the_ledger(store, study):
    for edit in EDITS:
        store.append_edit(study.id, edit, who="ab", why="because")
    assert tuple(r.edit for r in store.edits(study.id)) == EDITS
    assert {r.why for r in store.edits(study.id)} == {"because"}


@pytest.mark.parametrize("edit", EDITS, ids=lambda e: type(e).__name__)
def test_an_edit_is_the_same_after_plain_values(edit):
    assert edit_from_mapping(edit_to_mapping(edit)) == edit


@pytest.mark.parametrize(
    ("given", "says"),
    [({"kind": "Erase"}, "allowed: MarkSet"), ("x", "allowed: MarkSet"),
     ({"kind": "Undo"}, "edit_id"), ({"kind": "Undo", "edit_id": "a", "x": 1}, "allowed: edit_id"),
     ({"kind": "MarkSet", "id": "a", "mark": {"kind": "lunch"}}, "mark.kind")],
)  # fmt: skip
def test_a_bad_edit_is_refused_with_what_is_allowed(given, says):
    with pytest.raises(SheetInvalid, match=says):
        edit_from_mapping(given)


def test_edits_and_undos_from_the_store_resolve_to_the_same_sheet(store, study):
    before = resolve(store.first_sheet(study.id), store.edits(study.id))
    line = store.append_edit(study.id, SheetSet(field="vessel", value="LAD"), who="ab")
    assert resolve(store.first_sheet(study.id), store.edits(study.id)).sheet.vessel == "LAD"
    store.append_edit(study.id, Undo(edit_id=line.id), who="ab")
    assert resolve(store.first_sheet(study.id), store.edits(study.id)) == before


@pytest.mark.parametrize("sql", [
    "UPDATE event SET actor = 'zz'", "DELETE FROM event",
    "INSERT OR REPLACE INTO event SELECT * FROM event",
])  # fmt: skip
def test_the_ledger_refuses_change_and_removal(store, study, sql):
    store.append_edit(study.id, EDITS[0], who="ab")
    with pytest.raises(DatabaseError, match="append-only"), store.engine.begin() as connection:
        connection.execute(text(sql))
    assert store.ledger_faults() == ()


def test_a_change_made_behind_the_triggers_is_seen(store, study):
    for edit in EDITS:
        store.append_edit(study.id, edit, who="ab")
    with store.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER event_no_update"))
        connection.execute(text("DROP TRIGGER event_no_delete"))
        connection.execute(text("UPDATE event SET body = replace(body,'LAD','RCA') WHERE seq = 5"))
        connection.execute(text("UPDATE event SET actor = 'zz' WHERE seq = 3"))
        connection.execute(text("DELETE FROM event WHERE seq = 7"))
    faults = " / ".join(store.ledger_faults())
    assert "line 5 was changed" in faults
    assert "line 3 says one thing" in faults
    assert "line 7 is missing" in faults


def test_four_writers_at_once_lose_nothing(store, study):
    def write(k: int) -> None:
        for _ in range(25):
            store.append_edit(study.id, SheetSet(field="vessel", value=f"v{k}"), who=f"w{k}")

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(write, range(4)))
    assert len(store.edits(study.id)) == 100
    assert store.ledger_faults() == ()


def test_tables_go_up_and_down_and_the_triggers_stand(store):
    def triggers() -> set[str]:
        with store.engine.connect() as connection:
            rows = connection.execute(text("SELECT name FROM sqlite_master WHERE type='trigger'"))
            return {r.name for r in rows}

    assert triggers() == {"event_no_update", "event_no_delete"}
    migrate(store.engine, "base")
    assert triggers() == set()
    migrate(store.engine)
    assert triggers() == {"event_no_update", "event_no_delete"}


def test_the_migrated_tables_are_the_declared_ones(store):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from arteriole.store.schema import metadata

    with store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_a_reopened_store_holds_everything(store, study, tmp_path):
    store.append_edit(study.id, EDITS[0], who="ab")
    store.keep_result(study.id, input_hash="0" * 64, version="0.1.0", body='{"a":1}')
    head = store.ledger_head()
    store.close()
    again = open_store(f"sqlite:///{tmp_path / 'kept' / 'store.db'}")
    assert again.ledger_head() == head
    assert again.latest_result(study.id) == {"a": 1}
    assert len(again.edits(study.id)) == 1
    again.close()


def test_results_are_added_never_replaced(store, study):
    for body in ('{"a":1}', '{"a":2}'):
        store.keep_result(study.id, input_hash=body, version="0.1.0", body=body)
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM result")).scalar_one() == 2
    assert store.latest_result(study.id) == {"a": 2}


@pytest.mark.parametrize(
    ("words", "found"), [("ramp", 1), ("RCA", 1), ("rca gathering", 1), ("LAD", 0), ("%", 0)]
)
def test_search_finds_words_in_title_sheet_and_state(store, study, words, found):
    assert len(store.studies(words)) == found


def test_states_are_set_and_noted(store, study):
    assert store.set_state(study.id, "complete", who="ab").state == "complete"
    assert store.events(study.id)[-1].content == {"old": "gathering", "new": "complete", "why": ""}
    with pytest.raises(OptionError, match="allowed: gathering, complete"):
        store.set_state(study.id, "signed", who="ab")


def test_an_unknown_study_is_named(store):
    with pytest.raises(UnknownKey, match="nowhere"):
        store.study("nowhere")


def test_lost_bytes_are_said_to_be_lost(store, study):
    store.vault.forget(study.recordings[0].sha256)
    with pytest.raises(UnreadableRecording, match="backup"):
        store.main_file(study.id)


@pytest.mark.parametrize("sha", ["../../etc", "a" * 63, "G" * 64, ""])
def test_the_vault_takes_no_path_for_a_hash(store, sha):
    with pytest.raises(UnreadableRecording, match="64 hexadecimal"):
        store.vault.place_of(sha)


@pytest.mark.parametrize("address", ["postgresql://x/y", "sqlite://", "nonsense:/:/://"])
def test_an_address_that_cannot_be_used_says_what_can(address):
    with pytest.raises(OptionError, match="file"):
        open_store(address)


def test_a_time_without_zone_is_refused_and_utc_comes_back():
    dialect = create_engine("sqlite://").dialect
    kind = UtcTime().dialect_impl(dialect)
    to_store, from_store = kind.bind_processor(dialect), kind.result_processor(dialect, None)
    with pytest.raises(ValueError, match="no zone"):
        to_store(datetime(2026, 1, 1))  # noqa: DTZ001
    east = datetime(2026, 1, 1, 5, tzinfo=timezone(timedelta(hours=5)))
    assert from_store(to_store(east)) == datetime(2026, 1, 1, tzinfo=UTC)
    assert from_store(to_store(east)).tzinfo is UTC
    assert from_store(to_store(None)) is None


def test_a_list_reads_the_last_summary_of_each_study(store, study, file):
    other = store.add_study(recording_of(file), [file], sheet=Sheet(), who="ab")
    for k in range(3):
        store.keep_result(study.id, input_hash=f"{k}", version="0.1.0", body="{}",
                          summary={"ffr": f"0.8{k}"})  # fmt: skip

    assert store.latest_summaries() == {study.id: {"ffr": "0.82"}}
    assert other.id not in store.latest_summaries()
