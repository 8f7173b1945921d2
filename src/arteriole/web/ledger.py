"""The Ledger: the history of a study. Nothing is deleted; every edit can be taken back."""

import json
from typing import Any

import htpy as h

from arteriole.recording import EditRecord, Undo
from arteriole.recording.edit import standing
from arteriole.store import Event, Store, StudyRow
from arteriole.web.page import Face, page
from arteriole.web.texts import Texts


def ledger(face: Face, store: Store, row: StudyRow) -> str:
    """Return the page."""
    t = face.t
    events = store.events(row.id)
    edits = tuple(e.edit_record() for e in events if e.kind == "edit")
    stand = {r.id for r in standing(edits)}
    gone = {r.id for r in edits if isinstance(r.edit, Undo)} - _standing_undos(edits)
    faults = store.ledger_faults()
    return page(
        face, t("ledger.title", title=row.title),
        h.h1[t("ledger.title", title=row.title)],
        h.p(".soft")[t("ledger.intro")],
        h.p[h.span(f".tag.{'dashed' if faults else 'strong'}")[
            t("ledger.broken") if faults else t("ledger.whole")],
            h.span(".small.soft")[
                " ", t("ledger.head"), " ", h.code[store.ledger_head()[:16]], "…"]],
        faults and h.ul[(h.li[f] for f in faults)],
        h.section(".panel")[h.div(".scroll")[h.table("#ledger")[
            h.thead[h.tr[(h.th(scope="col")[t(f"ledger.{k}")]
                          for k in ("when", "who", "what", "old", "new", "why", "act"))]],
            h.tbody[(_row(t, e, stand, gone) for e in reversed(events))],
        ]]],
        script="plain.js", simulated=row.simulated, current="ledger", study_id=row.id,
    )  # fmt: skip


def described(e: Event) -> tuple[str, str, str]:
    """Return what a ledger line did: name, old value, new value, as plain text."""
    c = e.content
    if e.kind != "edit":
        old = str(c.get("old", ""))
        return e.kind, old, str(c.get("new") or c.get("name") or "")
    edit = c["edit"]
    if edit["kind"] != "Undo":
        return _named(edit), _said(c.get("old")), _said(_given(edit))
    back = c.get("old")
    if not isinstance(back, dict) or "kind" not in back:
        return "undo", "", ""
    if back["kind"] == "Undo":
        return "redo", "", ""
    return f"undo: {_named(back)}", _said(_given(back)), ""


def _named(edit: dict[str, Any]) -> str:
    """Return which thing an edit changes."""
    match edit["kind"]:
        case "SheetSet":
            return f"sheet: {edit['field']}"
        case "SettingsSet":
            return f"setting: {edit['name']}"
        case "MarkSet":
            return f"mark: {edit['id']}"
        case "MarkRemoved":
            return f"mark removed: {edit['id']}"
        case _:
            return "rules"


def _given(edit: dict[str, Any]) -> Any:
    """Return the value that an edit gives."""
    return edit.get("value", edit.get("mark", edit.get("rules")))


def _row(t: Texts, e: Event, stand: set[str], gone: set[str]) -> h.Element:
    what, old, new = described(e)
    is_edit = e.kind == "edit"
    is_undo = is_edit and e.content["edit"]["kind"] == "Undo"
    undone = (is_edit and not is_undo and e.id not in stand) or e.id in gone
    can = is_edit and not undone
    return h.tr(data_event=e.id)[
        h.td(".num")[h.time(datetime=e.at.isoformat())[e.at.strftime("%Y-%m-%d %H:%M:%S")], " UTC"],
        h.td[e.actor],
        h.th(class_="undone" if undone else None, scope="row")[what],
        h.td[old], h.td[new], h.td[str(e.content.get("why", ""))],
        h.td[
            can and h.button(type="button", data_undo=e.id,
                             aria_label=t("ledger.undo_of", what=what))[
                t("redo") if is_undo else t("undo")],
            undone and h.span(".tag.dashed")[t("ledger.undone")],
        ],
    ]  # fmt: skip


def _standing_undos(edits: tuple[EditRecord, ...]) -> set[str]:
    gone: set[str] = set()
    for r in reversed(edits):
        if isinstance(r.edit, Undo) and r.id not in gone:
            gone.add(r.edit.edit_id)
    return {r.id for r in edits if isinstance(r.edit, Undo) and r.id not in gone}


def _said(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, dict):
        return ", ".join(f"{k} {_said(v)}" for k, v in value.items())
    if isinstance(value, float):
        return f"{value:.10g}" if value.is_integer() else f"{round(value, 3):g}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
