"""How fast virtual patients are made, and whether memory grows with the cohort.

    python benchmarks/simulate.py [--count 200] [--workers 2] [--out benchmarks/results/simulate.md]

One session of ten minutes at 500 Hz on one core, compiled solvers loaded beforehand, no file
written; then a cohort on two cores, made and thrown away; largest memory of a worker after half and
after all of its sessions; two sessions of one seed compared byte by byte.
"""

import argparse
import json
import platform
import resource
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from arteriole.simulate import drawn_session, session

TEN_MINUTES = 600.0
SINGLE_LIMIT_S, COHORT_LIMIT_S = 2.0, 240.0


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def some(job):
    seed, first, count = job
    early = None
    for k in range(first, first + count):
        drawn_session(seed, index=k)
        if k - first == count // 2 - 1:
            early = peak_mb()
    return early, peak_mb()


def ten_minutes():
    """Return the best of three times of a session, scaled to ten minutes of recording."""
    session("focal", 1, continuous=True)
    best, long = 1e9, 0.0
    for _ in range(3):
        start = time.perf_counter()
        made = session("focal", 1, continuous=True, rate_hz=500.0)
        best = min(best, time.perf_counter() - start)
        long = made.recording.duration_s
    return best, long, best * TEN_MINUTES / long


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--count", type=int, default=200)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--out", type=Path, default=Path("benchmarks/results/simulate.md"))
    o = ask.parse_args()
    start = time.perf_counter()
    session("normal", 1)
    first = time.perf_counter() - start
    took, long, scaled = ten_minutes()
    a, b = session("serial", 7), session("serial", 7)
    same = a.recording.sha256 == b.recording.sha256 and json.dumps(a.truth) == json.dumps(b.truth)
    share = o.count // o.workers
    start = time.perf_counter()
    with ProcessPoolExecutor(o.workers, mp_context=get_context("spawn")) as pool:
        memory = list(pool.map(some, [(3, w * share, share) for w in range(o.workers)]))
    cohort = time.perf_counter() - start
    early, late = max(m[0] or m[1] for m in memory), max(m[1] for m in memory)
    rows = [
        ("first session with loading or compiling of the solvers", f"{first:.2f} s", "apart"),
        (f"session of {long:.0f} s at 500 Hz, one core", f"{took:.2f} s", ""),
        ("the same per 600 s of recording", f"{scaled:.2f} s", f"<= {SINGLE_LIMIT_S:g} s"),
        (
            f"{share * o.workers} drawn sessions on {o.workers} cores, no files",
            f"{cohort:.0f} s",
            f"<= {COHORT_LIMIT_S:g} s",
        ),
        (f"largest memory of a worker after {share // 2} sessions", f"{early:.0f} MB", ""),
        (f"largest memory of a worker after {share}", f"{late:.0f} MB", "flat"),
        ("same seed, same bytes (samples and truth)", "yes" if same else "no", "yes"),
    ]
    call = f"`python benchmarks/simulate.py --count {o.count} --workers {o.workers}`"
    where = f"Python {platform.python_version()}, {platform.machine()}"
    lines = ["# Virtual patients: speed", "", f"{call}, {where}.", ""]
    lines += ["| what | measured | limit |", "|---|---|---|"]
    lines += [f"| {w} | {m} | {limit} |" for w, m, limit in rows]
    text = "\n".join(lines) + "\n"
    o.out.parent.mkdir(parents=True, exist_ok=True)
    o.out.write_text(text, "utf-8")
    print(text)


if __name__ == "__main__":
    main()
