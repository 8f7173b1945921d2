"""A server on loopback and a browser, both started once."""

import shutil
import socket
import threading
from contextlib import contextmanager

import httpx
import pytest
import uvicorn
from toy import toy, toy_file

from arteriole.recording import Sheet
from arteriole.store import open_store
from arteriole.web.app import create_app

CHROMIUM = shutil.which("chromium")
LAUNCH = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
]  # fmt: skip


class Served:
    """An application on a free port, its store, and ways to reach it."""

    def __init__(self, app, port):
        self.app, self.port = app, port
        self.url = f"http://127.0.0.1:{port}"

    @property
    def store(self):
        return self.app.state.desk.store

    def opening(self, path="/"):
        return f"{self.url}/open?key={self.app.state.keys.new_opening()}&next={path}"

    @contextmanager
    def client(self):
        with httpx.Client(base_url=self.url, follow_redirects=True, timeout=30,
                          headers={"x-arteriole": "1"}) as one:  # fmt: skip
            one.get(self.opening())
            yield one

    def add(self, folder, sheet=None, **content):
        file = toy_file(folder, **content)
        recording = self.app.state.desk.conductor.read(file, {}, {})
        return self.store.add_study(recording, [file], sheet=sheet or Sheet(), who="ab")


@contextmanager
def served(app):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error",
                                           ws="none"))  # fmt: skip
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.01)
    try:
        yield Served(app, port)
    finally:
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def site(tmp_path):
    with served(create_app(open_store(str(tmp_path / "kept" / "s.db")), conductor=toy())) as one:
        yield one


@pytest.fixture
def client(site):
    with site.client() as one:
        yield one


@pytest.fixture
def study(site, tmp_path):
    return site.add(tmp_path, Sheet(case_id="demo-017", vessel="LAD", segment="mid"))


@pytest.fixture(scope="session")
def browser():
    if CHROMIUM is None:
        pytest.skip("chromium is not on PATH; install it to run the browser tests")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        one = p.chromium.launch(executable_path=CHROMIUM, args=LAUNCH)
        yield one
        one.close()


@pytest.fixture
def tab(browser):
    """A page that fails the test on any script error or refused resource."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    faults = []
    page.on("pageerror", lambda e: faults.append(str(e)))
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
    page.refused = 0  # how many refusals by the server the test expects
    page.dropped = 0  # how many connections the test cuts
    yield page
    context.close()
    refusals = [f for f in faults if "status of 4" in f]
    cuts = [f for f in faults if "net::ERR_FAILED" in f]
    assert [f for f in faults if f not in refusals and f not in cuts] == []
    assert (len(refusals), len(cuts)) == (page.refused, page.dropped)


@pytest.fixture
def bench(site, study, tab):
    tab.goto(site.opening(f"/studies/{study.id}"))
    tab.wait_for_selector("trace-view[data-painted]")
    tab.wait_for_selector(".tv-notch", state="attached")
    return tab
