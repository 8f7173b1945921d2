"""One simulated study on a store of its own that goes when the application stops."""

import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI

from arteriole.recording import Recording, Sheet
from arteriole.store import open_store
from arteriole.web.app import create_app


def open_demo(recording: Recording, sheet: Sheet, truth: Any = None) -> FastAPI:
    """Return an application with this one study; ``app.state.first_path`` is its Bench.

    Parameters
    ----------
    recording : Recording
        A simulated session; written as HDF5, which is exact.
    sheet : Sheet
        What the operator knows of it.
    truth : optional
        Kept at ``app.state.truth`` for those who teach with it; pages do not show it.
    """
    from arteriole.formats import read_recording, write_recording

    folder = tempfile.TemporaryDirectory(prefix="arteriole-demo-")
    store = open_store(str(Path(folder.name) / "demo.db"))
    file = Path(folder.name) / "demo.h5"
    write_recording(recording, file)
    row = store.add_study(read_recording(file), [file], sheet=sheet, who="arteriole demo",
                          title=sheet.case_id or recording.name)  # fmt: skip
    file.unlink()
    app = create_app(store)
    app.state.truth, app.state.first_path = truth, f"/studies/{row.id}"
    inner = app.router.lifespan_context

    @asynccontextmanager
    async def life(which: FastAPI) -> AsyncIterator[Any]:
        async with inner(which) as state:
            yield state
        folder.cleanup()

    app.router.lifespan_context = life
    app.state.desk.begin(row.id)
    return app
