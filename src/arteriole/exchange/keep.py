"""A case bag into a store: recordings, sheet and every line of its ledger, then compared."""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path

from arteriole.errors import OptionError
from arteriole.exchange.bag import CaseBag
from arteriole.exchange.restore import restored
from arteriole.formats import read_recording
from arteriole.recording import Edit, EditRecord, RulesSet, Settings, SettingsSet, Undo
from arteriole.recording.edit import DEFAULT_RULES
from arteriole.recording.settings import settings_from_mapping
from arteriole.store import Store, StudyRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The study in the store; ``difference`` is empty where its result is the bag's to the byte."""

    row: StudyRow
    difference: str


def kept(bag: CaseBag, store: Store, *, who: str, title: str = "") -> Kept:
    """Put a bag's study into a store and return it, with what differs from the bag's result.

    Edits keep their order, who and why; the store's ledger dates them when they come in and says
    when they were made. What an analysis without a ledger was told by options comes in as edits.

    Raises
    ------
    OptionError
        The bag was decided by a laboratory's own rule table, which a ledger cannot name.
    ArterioleError
        A recording that cannot be read.
    """
    how = bag.analysis
    if isinstance(how.get("rules"), dict):
        raise OptionError(
            "The bag was decided by a laboratory's own rule table; a store knows tables by name. "
            "Open it with arteriole bag open."
        )
    maps = how.get("column_maps") or [how.get("column_map") or {}] * len(bag.recordings)
    rate = how.get("rate_hz")
    sheet = bag.sheet if rate is None else replace(bag.sheet, rate_hz=float(rate))
    row: StudyRow | None = None
    for main, columns in zip(bag.recordings, maps, strict=False):
        recording = read_recording(main, column_map=columns, rate_hz=sheet.rate_hz)
        files = [main, *_beside(main, bag)]
        if row is None:
            row = store.add_study(
                recording, files, sheet=sheet, who=who, title=title, column_map=dict(columns)
            )
        else:
            row = store.add_run(row.id, recording, files, who=who, column_map=dict(columns))
    assert row is not None  # a bag holds at least one recording
    ids: dict[str, str] = {}
    for one in (*bag.edits, *_told(bag, who)):
        line = store.append_edit(
            row.id, _linked(one.edit, ids), who=one.who,
            why=f"{one.why} (made {one.when}, in the bag)".strip() if one.when else one.why,
        )  # fmt: skip
        ids[one.id] = line.id
    again = replace(
        bag, sheet=store.first_sheet(row.id), edits=store.edits(row.id),
        analysis={**how, "ledger": True},
    )  # fmt: skip
    return Kept(row=store.study(row.id), difference=restored(again).difference)


def _beside(main: Path, bag: CaseBag) -> list[Path]:
    """Return the files of a recording of several that lie beside its main one."""
    return [f for f in bag.originals
            if f.parent == main.parent and f not in bag.recordings]  # fmt: skip


def _linked(edit: Edit, ids: dict[str, str]) -> Edit:
    """Return the edit with an undo pointing to the line as the store knows it."""
    return Undo(edit_id=ids.get(edit.edit_id, edit.edit_id)) if isinstance(edit, Undo) else edit


def _told(bag: CaseBag, who: str) -> Iterator[EditRecord]:
    """Yield what options said of an analysis without a ledger: settings and rules, as edits."""
    if bag.analysis.get("ledger"):
        return
    settings, usual = settings_from_mapping(bag.analysis.get("settings") or {}), Settings()
    for one in fields(Settings):
        value = getattr(settings, one.name)
        if value != getattr(usual, one.name):
            yield EditRecord(id=f"setting {one.name}", who=who, when="", why="as in the bag",
                             edit=SettingsSet(name=one.name, value=value))  # fmt: skip
    rules = bag.analysis.get("rules", DEFAULT_RULES)
    if rules != DEFAULT_RULES:
        yield EditRecord(id="rules", who=who, when="", why="as in the bag",
                         edit=RulesSet(rules=str(rules)))  # fmt: skip
