"""Figures of the Bench: a 30-minute study of four channels at 500 Hz in Chromium on loopback.

Run: ``python benchmarks/web.py`` writes ``benchmarks/results/web.md``. Software rendering
(``--disable-gpu``); times are of this machine. The session is a simulated one repeated to
30 minutes, measured by arteriole's own conductor.
"""

import argparse
import os
import platform
import shutil
import socket
import statistics
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import uvicorn
from playwright.sync_api import Page, sync_playwright

from arteriole.formats import read_recording, write_recording
from arteriole.recording import Channel, Recording, Sheet
from arteriole.simulate import session
from arteriole.store import open_store
from arteriole.web import create_app
from arteriole.web.bins import bins_between, packed, pyramid_of

LAUNCH = ["--no-sandbox", "--disable-gpu", "--disable-background-networking",
          "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
RATE_HZ = 500.0
MINUTES = 30.0

FRAMES = """async (n) => {
  const view = document.querySelector('trace-view'), gaps = [];
  view.zoom(600, 660); await new Promise((d) => setTimeout(d, 400));
  let last = await new Promise((d) => requestAnimationFrame(d));
  for (let i = 0; i < n; i++) {
    view.pan(i % 120 < 60 ? 0.01 : -0.01);
    const now = await new Promise((d) => requestAnimationFrame(d));
    gaps.push(now - last); last = now;
  }
  return gaps;
}"""
ZOOMS = """async (n) => {
  const view = document.querySelector('trace-view'), took = [];
  for (let i = 0; i < n; i++) {
    const done = new Promise((d) => view.addEventListener(
      'refined', (e) => d(e.detail.took_ms), { once: true }));
    const wide = [1800, 600, 120, 30, 8][i % 5], at = 200 + 37 * i;
    view.zoom(at, at + wide);
    took.push(await done);
    await new Promise((d) => setTimeout(d, 60));
  }
  return took;
}"""
NEAR = """() => { const v = document.querySelector('trace-view');
  const s = v.spans.find((x) => x.kind === 'rest'); v.zoom(s.start_s - 120, s.end_s + 120); }"""
PAINTED = "performance.getEntriesByName('trace-first-paint')[0].startTime"
WATCH = """() => { window.settled = new Promise((done) => document.querySelector('trace-view')
  .addEventListener('settled', (e) => done(e.detail.took_ms), { once: true })); return 0; }"""


def long_session(minutes: float = MINUTES, rate_hz: float = RATE_HZ) -> tuple[Recording, Sheet]:
    """Return a simulated session with its last samples repeated until it is this long."""
    one = session("structural", 11)
    recording, sheet = one.recording, one.sheet
    n = round(minutes * 60 * rate_hz)
    channels = []
    for one in recording.channels:
        at = np.arange(n) / rate_hz * one.rate_hz
        at = np.minimum(at, at % one.values.size if one.values.size < n else at)
        values = one.values[np.minimum(at.astype(int), one.values.size - 1)]
        channels.append(Channel(name=one.name, unit=one.unit, rate_hz=rate_hz, values=values))
    return (
        Recording(name="long.h5", sha256="0" * 64, format="hdf5", channels=tuple(channels),
                  simulated=True),
        sheet,
    )  # fmt: skip


def main() -> None:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--out", default=str(Path(__file__).parent / "results" / "web.md"))
    out = Path(arguments.parse_args().out)
    folder = Path(tempfile.mkdtemp(prefix="arteriole-bench-"))
    recording, sheet = long_session()
    file = folder / "long.h5"
    write_recording(recording, file)
    store = open_store(str(folder / "s.db"))
    row = store.add_study(read_recording(file), [file], sheet=sheet, who="benchmark")
    app = create_app(store)
    started = time.perf_counter()
    app.state.desk.open(row.id)
    measured_s = time.perf_counter() - started
    rows = [("measure and decide, once", f"{measured_s:.1f} s", "")]
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error"))
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.01)
    url = f"http://127.0.0.1:{port}"

    def opening(path="/"):
        return f"{url}/open?key={app.state.keys.new_opening()}&next={path}"

    try:
        with sync_playwright() as p:
            browser = p.chromium.launch(executable_path=shutil.which("chromium"), args=LAUNCH)
            context = browser.new_context(viewport={"width": 1280, "height": 800})
            page = context.new_page()
            page.goto(opening())
            rows += [*paint_rows(browser, opening, f"/studies/{row.id}")]
            rows += [*move_rows(page, f"{url}/studies/{row.id}")]
            browser.close()
    finally:
        server.should_exit = True
    rows += [*bin_rows()]
    out.write_text(table(rows))
    print(out.read_text())
    shutil.rmtree(folder)


def paint_rows(browser, opening, path):
    """First paint with traces (cold: nothing cached, redirect included), and bytes before data."""
    cold, warm, weights = [], [], []
    for _ in range(5):
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        page = context.new_page()
        replies = []
        page.on("response", lambda r, to=replies: to.append(r))
        page.goto(opening(path))
        page.wait_for_selector("trace-view[data-painted]")
        cold.append(page.evaluate(PAINTED))
        page.wait_for_timeout(200)
        weights.append(sum(r.request.sizes()["responseBodySize"] for r in replies
                           if "/api/" not in r.url))  # fmt: skip
        page.reload()
        page.wait_for_selector("trace-view[data-painted]")
        warm.append(page.evaluate(PAINTED))
        context.close()
    said = f"{statistics.median(cold):.0f} ms"
    yield ("first paint of the traces, new browser profile, median of 5", said, "500 ms")
    yield ("first paint, opened again, median of 5", f"{statistics.median(warm):.0f} ms", "500 ms")
    yield ("page weight before data, as sent", f"{max(weights) / 1000:.0f} kB", "150 kB")


def move_rows(page: Page, url):
    """Zoom, pan, drag."""
    page.goto(url)
    page.wait_for_selector("trace-view[data-painted]")
    page.wait_for_timeout(500)
    zooms = page.evaluate(ZOOMS, 40)
    yield ("zoom to refined redraw, median of 40", f"{statistics.median(zooms):.0f} ms", "100 ms")
    gaps = sorted(page.evaluate(FRAMES, 300))
    yield ("frame while panning, median of 300", f"{statistics.median(gaps):.1f} ms", "20 ms")
    yield ("frame while panning, 95 %", f"{gaps[int(0.95 * len(gaps))]:.1f} ms", "34 ms")
    page.evaluate(NEAR)
    page.wait_for_timeout(300)
    took = []
    for k in range(5):
        box = page.locator(".tv-body.k-rest:visible").first.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + 12
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + (6 if k % 2 else -6), y, steps=3)
        page.evaluate(WATCH)
        page.mouse.up()
        took.append(page.evaluate("window.settled"))
    yield ("drag to new index on the page, median of 5", f"{statistics.median(took):.0f} ms",
           "300 ms")  # fmt: skip


def bin_rows():
    """The server's half: two hours of six channels at 2 kHz."""
    values = np.random.default_rng(1).normal(90, 10, 2 * 3600 * 2000)
    one = pyramid_of(Channel(name="pa", unit="mmHg", rate_hz=2000.0, values=values))
    times = []
    for k in range(30):
        start = time.perf_counter()
        packed([bins_between(one, 100.0 * k, 100.0 * k + 7200 / (1 + k), wanted=1800)] * 6)
        times.append(1000 * (time.perf_counter() - start))
    took = f"{statistics.median(times):.1f} ms"
    yield ("bins of 2 h x 6 channels x 2 kHz, median of 30 views", took, "")


def table(rows) -> str:
    """Return the table as Markdown."""
    lines = ["| what | measured | wanted at most |", "|---|---|---|"]
    lines += [f"| {a} | {b} | {c or '-'} |" for a, b, c in rows]
    return (
        "# The Bench in figures\n\n"
        f"30 minutes, four channels, 500 Hz, simulated; Chromium with software rendering, "
        f"1280 x 800; {platform.machine()}, Python {platform.python_version()}; "
        f"{datetime.now(UTC):%Y-%m-%d}; load average {os.getloadavg()[0]:.1f} on "
        f"{os.cpu_count()} cores (a busy machine makes all times longer). "
        "Written by `benchmarks/web.py`.\n\n" + "\n".join(lines) + "\n"
    )


if __name__ == "__main__":
    main()
