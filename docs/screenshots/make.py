"""Draw every page in both themes into this folder: own renders of simulated sessions, small.

Run: ``python docs/screenshots/make.py`` (needs Chromium on PATH).
"""

import io
import shutil
import socket
import tempfile
import threading
import time
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import sync_playwright

from arteriole.formats import read_recording, write_recording
from arteriole.recording import Mark, MarkSet, SheetSet
from arteriole.simulate import session
from arteriole.store import open_store
from arteriole.web import create_app

HERE = Path(__file__).parent
LAUNCH = ["--no-sandbox", "--disable-gpu", "--disable-background-networking",
          "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
SIZE = {"width": 1280, "height": 900}
COLOURS = 200
CASES = (("demo-001", "focal", 3), ("demo-002", "structural", 11),
         ("demo-002 later", "structural", 12))  # fmt: skip


def stocked(folder: Path):
    """Return an application with three studies, the second with edits."""
    app = create_app(open_store(str(folder / "s.db")))
    store, desk = app.state.desk.store, app.state.desk
    ids = []
    for title, pattern, seed in CASES:
        one = session(pattern, seed, case_id=title)
        file = folder / f"{title.replace(' ', '-')}.h5"
        write_recording(one.recording, file)
        row = store.add_study(read_recording(file), [file], sheet=one.sheet, who="M. reader")
        desk.open(row.id)
        ids.append(row.id)
    second = desk.open(ids[1])
    if second.result.injections:
        bad = second.result.injections[-1]
        mark = Mark(kind="injection", time_s=bad.time_s, verdict="left out", why="cough")
        desk.edit(ids[1], MarkSet(id=bad.id, mark=mark), who="M. reader", why="cough", old=None)
    desk.edit(ids[1], SheetSet(field="segment", value="mid"), who="M. reader",
              why="as told by the operator", old=None)  # fmt: skip
    return app, ids


def shots(page, url, ids):
    """Yield (name, page ready to be drawn)."""
    page.goto(url + "/")
    page.wait_for_timeout(400)
    yield "shelf"
    page.goto(f"{url}/studies/{ids[1]}")
    page.wait_for_selector("trace-view[data-painted]")
    page.wait_for_timeout(500)
    yield "bench"
    page.evaluate("() => { const v = document.querySelector('trace-view');"
                  "const n = v.notches.at(-1); v.zoom(n.time_s - 4, n.time_s + 9); }")  # fmt: skip
    page.keyboard.press("w")
    page.wait_for_timeout(500)
    yield "bench-near"
    page.keyboard.press("w")
    page.evaluate("document.querySelector('trace-view').zoom(0, 1e9)")
    page.locator("#injections").evaluate("(e) => e.scrollIntoView({ block: 'start' })")
    page.wait_for_timeout(300)
    yield "bench-parts"
    page.keyboard.press("i")
    page.keyboard.press("Enter")
    page.wait_for_selector("#working-body")
    page.wait_for_timeout(300)
    yield "working"
    page.keyboard.press("Escape")
    page.keyboard.press("?")
    page.wait_for_timeout(200)
    yield "keys"
    page.goto(f"{url}/studies/{ids[1]}/ledger")
    page.wait_for_timeout(200)
    yield "ledger"
    page.goto(f"{url}/compare?a={ids[1]}&b={ids[2]}")
    page.wait_for_timeout(200)
    yield "compare"


def main() -> None:
    folder = Path(tempfile.mkdtemp(prefix="arteriole-shots-"))
    app, ids = stocked(folder)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error"))
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.01)
    url = f"http://127.0.0.1:{port}"
    try:
        with sync_playwright() as p:
            browser = p.chromium.launch(executable_path=shutil.which("chromium"), args=LAUNCH)
            for theme in ("dark", "light"):
                page = browser.new_context(viewport=SIZE, color_scheme=theme).new_page()
                page.goto(f"{url}/open?key={app.state.keys.new_opening()}&next=/")
                for name in shots(page, url, ids):
                    image = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
                    image.quantize(COLOURS, dither=Image.Dither.NONE).save(
                        HERE / f"{name}-{theme}.png", optimize=True
                    )
            browser.close()
    finally:
        server.should_exit = True
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
