"""The JSON twin of every page, under ``/api/v1``; described by ``/api/v1/openapi.json``."""

import json
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from arteriole import CAUTION
from arteriole.errors import ChannelUnclear, OptionError, SheetInvalid, UnknownKey
from arteriole.recording import (
    Edit,
    MarkRemoved,
    MarkSet,
    RulesSet,
    SettingsSet,
    SheetSet,
    Undo,
)  # fmt: skip
from arteriole.recording.sheet import sheet_to_mapping
from arteriole.store import StudyRow, edit_from_mapping, edit_to_mapping
from arteriole.web import strips
from arteriole.web.bins import MOST_BINS, bins_between, packed
from arteriole.web.compare import compared
from arteriole.web.desk import Desk, Reading
from arteriole.web.guard import session_cookie
from arteriole.web.history import history_of
from arteriole.web.intake import MOST_FILES, preview, take_in

api = APIRouter(prefix="/api/v1")
BINARY = "application/octet-stream"


class EditGiven(BaseModel):
    """An edit of the contract with its reason."""

    edit: dict[str, Any]
    why: str = Field("", max_length=300)


class Why(BaseModel):
    """A reason."""

    why: str = Field("", max_length=300)


class StateGiven(Why):
    """A new state of a study."""

    state: str


class ReaderGiven(BaseModel):
    """Who reads from now on; written beside every edit."""

    name: str = Field(min_length=1, max_length=60)


def desk_of(request: Request) -> Desk:
    """Return the desk of this application."""
    desk: Desk = request.app.state.desk
    return desk


@api.get("/studies")
def list_studies(request: Request, q: str = "") -> dict[str, Any]:
    """Return the Shelf: studies that hold all words of ``q``, last changed first."""
    desk = desk_of(request)
    return {"caution": CAUTION, "studies": [_row(desk, r) for r in desk.store.studies(q)]}


@api.post("/studies", status_code=201)
async def import_study(request: Request) -> Response:
    """Take in one recording (form fields ``files``, optional ``column_map``, ``sheet``)."""
    return await _import(request, "")


@api.post("/studies/{study_id}/recordings", status_code=201)
async def import_run(request: Request, study_id: str) -> Response:
    """Take in a further run of the same case (``files``, optional ``column_map``)."""
    return await _import(request, study_id)


async def _import(request: Request, run_of: str) -> Response:
    desk = desk_of(request)
    async with request.form(max_files=MOST_FILES + 1, max_fields=8) as form:
        uploads = [(f.filename or "", f.file) for f in form.getlist("files")
                   if isinstance(f, UploadFile)]  # fmt: skip
        column_map = _json_field(form.get("column_map")) or {}
        try:
            row = await run_in_threadpool(
                take_in, desk.store, desk.conductor, uploads, who=request.state.reader,
                column_map=column_map, sheet=_json_field(form.get("sheet")),
                title=str(form.get("title") or ""), run_of=run_of,
            )  # fmt: skip
        except ChannelUnclear as fault:
            if column_map:
                raise
            rows = await run_in_threadpool(preview, uploads[0][1])
            return _json({"error": str(fault), "preview": rows}, 422)
    desk.begin(row.id)
    return _json(_row(desk, row), 201)


@api.get("/studies/{study_id}")
def study(request: Request, study_id: str) -> dict[str, Any]:
    """Return one study with its stage: waiting, measuring, ready or failed."""
    desk = desk_of(request)
    return _row(desk, desk.store.study(study_id))


@api.put("/studies/{study_id}/state")
def set_state(request: Request, study_id: str, given: StateGiven) -> dict[str, Any]:
    """Set the study's state."""
    desk = desk_of(request)
    row = desk.store.set_state(study_id, given.state, who=request.state.reader, why=given.why)
    return _row(desk, row)


@api.get("/studies/{study_id}/result")
def result(request: Request, study_id: str) -> Response:
    """Return the result document ``arteriole.result/1``, byte for byte as ``--json`` writes it."""
    desk = desk_of(request)
    return Response(desk.body(desk.open(study_id)), media_type="application/json")


@api.get("/studies/{study_id}/view")
def view(request: Request, study_id: str) -> Response:
    """Return stretches, injections and damaged parts as drawn on the traces."""
    return _json(strips.view_of(desk_of(request).open(study_id)))


@api.get("/studies/{study_id}/traces", response_class=Response)
def traces(
    request: Request,
    study_id: str,
    t0: float = 0.0,
    t1: float = 1e9,
    n: Annotated[int, Query(ge=1, le=MOST_BINS)] = 2000,
) -> Response:
    """Return exact lowest and highest values per bin, binary; see ``static/trace-wire.js``."""
    laid = desk_of(request).open(study_id).laid
    parts = [bins_between(p, t0, t1, wanted=n) for p in laid.pyramids]
    return Response(packed(parts), media_type=BINARY)


@api.get("/studies/{study_id}/beats", response_class=Response)
def beats(request: Request, study_id: str) -> Response:
    """Return every beat's stretch, mean Pa, mean Pd and fitness, binary."""
    return Response(strips.beats_of(desk_of(request).open(study_id)), media_type=BINARY)


@api.get("/studies/{study_id}/working/{key}")
def working(request: Request, study_id: str, key: str) -> dict[str, Any]:
    """Return one index of the result document: formula, inputs, windows, lines, corrections."""
    reading = desk_of(request).open(study_id)
    return {"caution": CAUTION, "index": index_part(reading, key)}


@api.get("/studies/{study_id}/ledger")
def ledger(request: Request, study_id: str) -> dict[str, Any]:
    """Return every ledger line of the study and the state of the chain."""
    store = desk_of(request).store
    store.study(study_id)
    return {
        "caution": CAUTION,
        "faults": list(store.ledger_faults()),
        "head": store.ledger_head(),
        "lines": [
            {"seq": e.seq, "id": e.id, "at": e.at.isoformat(), "who": e.actor, "kind": e.kind,
             "content": e.content, "hash": e.hash}
            for e in store.events(study_id)
        ],
    }  # fmt: skip


@api.post("/studies/{study_id}/edits", status_code=201)
def edit(request: Request, study_id: str, given: EditGiven) -> dict[str, Any]:
    """Add an edit: MarkSet, MarkRemoved, SheetSet, SettingsSet, RulesSet or Undo."""
    return _edit(request, study_id, edit_from_mapping(given.edit), given.why)


@api.post("/studies/{study_id}/undo", status_code=201)
def undo(request: Request, study_id: str, given: Why) -> dict[str, Any]:
    """Take back the last edit that stands."""
    history = history_of(desk_of(request).store.edits(study_id))
    if history.undo is None:
        raise SheetInvalid("There is no edit to take back; the study is as it was imported.")
    return _edit(request, study_id, Undo(edit_id=history.undo), given.why)


@api.post("/studies/{study_id}/redo", status_code=201)
def redo(request: Request, study_id: str, given: Why) -> dict[str, Any]:
    """Bring back the edit that was undone last."""
    history = history_of(desk_of(request).store.edits(study_id))
    if history.redo is None:
        raise SheetInvalid("There is no undone edit to bring back; see the Ledger for older ones.")
    return _edit(request, study_id, Undo(edit_id=history.redo), given.why)


@api.get("/compare")
def compare(request: Request, a: str, b: str) -> dict[str, Any]:
    """Return the change of every index between two studies against published retest noise."""
    desk = desk_of(request)
    rows = compared(desk.open(a), desk.open(b))
    return {
        "caution": CAUTION, "a": a, "b": b,
        "indices": [
            {"key": one.key, "label": one.label, "method": one.method, "a": one.value,
             "b": two.value, "difference": c.difference, "noise95": c.noise95, "said": c.word,
             "source": c.source}
            for one, two, c in rows
        ],
    }  # fmt: skip


@api.put("/reader")
def set_reader(request: Request, given: ReaderGiven) -> Response:
    """Set who reads from now on."""
    name = " ".join("".join(c if c.isprintable() else " " for c in given.name).split())
    if not name:
        raise OptionError("The reader's name is empty; give initials or a name.")
    reply = _json({"reader": name})
    keys, cookie = request.app.state.keys, request.app.state.cookie
    reply.headers["set-cookie"] = session_cookie(keys, cookie, name)
    return reply


def index_part(reading: Reading, key: str) -> dict[str, Any]:
    """Return one index of the document.

    Raises
    ------
    UnknownKey
        No such index; the message lists those there are.
    """
    for part in reading.document["indices"]:
        if part["key"] == key:
            return dict(part)
    there = ", ".join(i["key"] for i in reading.document["indices"])
    raise UnknownKey(f"Index {key[:40]!r} is not in the result; there are: {there}.")


def _edit(request: Request, study_id: str, change: Edit, why: str) -> dict[str, Any]:
    desk = desk_of(request)
    old = _old(desk.open(study_id), change)
    reading = desk.edit(study_id, change, who=request.state.reader, why=why, old=old)
    line, history = reading.edits[-1], history_of(reading.edits)
    return {
        "id": line.id, "edit": edit_to_mapping(line.edit), "who": line.who, "when": line.when,
        "why": line.why, "old": old, "undo": history.undo, "redo": history.redo,
        "pattern": reading.result.statement.pattern,
    }  # fmt: skip


def _old(reading: Reading, change: Edit) -> Any:
    """Return what an edit replaces, as plain values."""
    effective = reading.effective
    match change:
        case SheetSet(field=name):
            return sheet_to_mapping(effective.sheet).get(name)
        case SettingsSet(name=name):
            return getattr(effective.settings, name, None)
        case RulesSet():
            return effective.rules
        case Undo(edit_id=key):
            found = [r.edit for r in reading.edits if r.id == key]
            if not found:
                raise SheetInvalid(
                    f"Edit {key[:40]!r} is not in this study's ledger; the Ledger lists them."
                )
            return edit_to_mapping(found[0])
        case MarkSet(id=key) | MarkRemoved(id=key):
            mark = reading.marks.get(key)
            if mark is not None:
                return edit_to_mapping(MarkSet(id=key, mark=mark))["mark"]
            view = strips.view_of(reading)
            for one in [*view["spans"], *view["notches"]]:
                if one["id"] == key:
                    return {k: v for k, v in one.items() if k != "id"}
            if isinstance(change, MarkRemoved):
                raise SheetInvalid(
                    f"Mark {key[:40]!r} does not stand; only marks can be removed. What is found "
                    "by itself is overruled by a mark."
                )
    return None


def _row(desk: Desk, row: StudyRow) -> dict[str, Any]:
    stage, fault = desk.stage(row)
    return {
        "id": row.id, "title": row.title, "state": row.state, "simulated": row.simulated,
        "created_at": row.created_at.isoformat(), "changed_at": row.changed_at.isoformat(),
        "stage": stage, "fault": fault or None,
        "recordings": [
            {"name": r.name, "sha256": r.sha256, "format": r.format, "bytes": r.bytes,
             "duration_s": r.duration_s, "channels": list(r.channels)}
            for r in row.recordings
        ],
    }  # fmt: skip


def _json_field(given: Any) -> Any:
    if not given:
        return None
    try:
        return json.loads(str(given))
    except ValueError:
        raise SheetInvalid(
            f"A form field holds {str(given)[:40]!r}; JSON is needed. Correct it."
        ) from None


def _json(content: Any, status: int = 200) -> Response:
    body = json.dumps(content, ensure_ascii=False, allow_nan=False)
    return Response(body, status, media_type="application/json")
