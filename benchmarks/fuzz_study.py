"""Damaged, cut and oddly marked recordings: whether the study ends, and what it then says.

Each is a SIMULATED drawn session with one to four harms (a cut, gaps, spikes, a frozen or scaled
channel, channels left out or exchanged, another rate) and, in half of them, marks at random.
A study that stops with anything but the project's own errors, or whose document is not valid or
holds a number that is not finite, counts as escaped.

Run: python benchmarks/fuzz_study.py --seeds 50000-50199 > benchmarks/results/fuzz_study.md
"""

import argparse
import subprocess
import sys
import traceback
import warnings
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from math import isfinite

import numpy as np

from arteriole.document import ResultDocument, to_json
from arteriole.errors import ArterioleError
from arteriole.recording import Channel, Mark, Recording, Sheet
from arteriole.simulate import drawn_session
from arteriole.study import analyse

STRETCHES = ("rest", "hyperaemia", "pullback", "equalisation", "drift_check", "unusable")
ROUTES = ("intravenous", "intracoronary", None)


def cut(channels: list[Channel], rng: np.random.Generator) -> list[Channel]:
    whole = min(c.values.size / c.rate_hz for c in channels)
    length = rng.uniform(1.0, whole)
    start = rng.uniform(0.0, whole - length)
    return [
        replace(c, values=c.values[int(start * c.rate_hz) : int((start + length) * c.rate_hz)])
        for c in channels
    ]


def on_one(name: str):
    """Return a harm of one channel's samples by its name."""

    def harm(channels: list[Channel], rng: np.random.Generator) -> list[Channel]:
        k = int(rng.integers(len(channels)))
        row = channels[k].values.astype(np.float64).copy()
        a, b = sorted(int(i) for i in rng.integers(0, row.size + 1, 2))
        if name == "gaps":
            for at in rng.integers(0, row.size, 30):
                row[at : at + int(rng.integers(1, row.size // 10 + 2))] = np.nan
        elif name == "lost":
            row[:] = np.nan
        elif name == "spikes":
            row[rng.integers(0, row.size, 40)] += rng.normal(0.0, 300.0, 40)
        elif name == "frozen":
            row[a:b] = row[min(a, row.size - 1)]
        elif name == "scaled":
            row *= rng.choice([-1.0, 0.0, 0.01, 7.5, 100.0])
        elif name == "clipped":
            low, high = np.nanpercentile(row, [30.0, 70.0]) if np.isfinite(row).any() else (0, 1)
            row = np.clip(row, low, high)
        elif name == "noise":
            row[a:b] += rng.normal(0.0, 25.0, b - a)
        return [replace(c, values=row) if i == k else c for i, c in enumerate(channels)]

    return harm


def left_out(channels: list[Channel], rng: np.random.Generator) -> list[Channel]:
    kept = [c for c in channels if c.name in {"pa", "pd"} or rng.random() < 0.5]
    return kept if rng.random() < 0.9 else kept[:1]


def exchanged(channels: list[Channel], rng: np.random.Generator) -> list[Channel]:
    a, b = rng.choice(len(channels), 2, replace=len(channels) < 2)
    values = [c.values for c in channels]
    return [
        replace(c, values=values[b if i == a else a if i == b else i])
        if channels[a].rate_hz == channels[b].rate_hz else c
        for i, c in enumerate(channels)
    ]  # fmt: skip


def slower(channels: list[Channel], rng: np.random.Generator) -> list[Channel]:
    step = int(rng.choice([2, 4]))
    return [replace(c, values=c.values[::step].copy(), rate_hz=c.rate_hz / step) for c in channels]


HARMS = {
    "cut": cut, "left out": left_out, "exchanged": exchanged, "slower": slower,
    **{n: on_one(n) for n in ("gaps", "lost", "spikes", "frozen", "scaled", "clipped", "noise")},
}  # fmt: skip


def marks_at_random(duration_s: float, rng: np.random.Generator) -> tuple[Mark, ...]:
    rows = []
    for _ in range(int(rng.integers(0, 6))):
        if rng.random() < 0.4:
            rows.append(Mark(kind="injection", time_s=float(rng.uniform(0.0, duration_s))))
            continue
        a, b = sorted(float(x) for x in rng.uniform(0.0, duration_s, 2))
        rows.append(Mark(kind=str(rng.choice(STRETCHES)), start_s=a, end_s=b))
    return tuple(rows)


def harmed(seed: int) -> tuple[Recording, Sheet, list[str]]:
    """Return one harmed session, its sheet and the names of its harms."""
    rng = np.random.default_rng(seed)
    session = drawn_session(seed)
    channels, named = list(session.recording.channels), []
    for name in rng.choice(sorted(HARMS), int(rng.integers(1, 5))):
        channels = HARMS[str(name)](channels, rng)
        named.append(str(name))
    recording = replace(session.recording, channels=tuple(channels))
    sheet = replace(
        session.sheet,
        hyperaemia=replace(session.sheet.hyperaemia, route=ROUTES[int(rng.integers(3))]),
        cvp_mmhg=float(rng.uniform(-5.0, 40.0)) if rng.random() < 0.3 else None,
        coronary_occlusion_mmhg=float(rng.uniform(0.0, 90.0)) if rng.random() < 0.3 else None,
    )
    if rng.random() < 0.5:
        sheet = replace(sheet, marks=marks_at_random(recording.duration_s, rng))
        named.append("marks")
    return recording, sheet, named


def unsound(tree: object, path: str = "") -> str:
    """Return where a document holds a number that is not finite, empty where nowhere."""
    if isinstance(tree, float) and not isfinite(tree):
        return path
    rows = tree.items() if isinstance(tree, dict) else enumerate(tree) if (
        isinstance(tree, list | tuple)) else ()  # fmt: skip
    return next((bad for k, v in rows if (bad := unsound(v, f"{path}/{k}"))), "")


def one(seed: int) -> tuple[int, list[str], str, str]:
    """Return seed, harms, what became of it, and where it escaped."""
    warnings.simplefilter("ignore")
    named: list[str] = []
    try:
        recording, sheet, named = harmed(seed)
        result = analyse(recording, sheet)
        plain = to_json(result)
        ResultDocument.model_validate(plain)
        bad = unsound(plain)
        if bad:
            return seed, named, "not finite", bad
        given = [i for i in result.indices if i.value is not None]
        outside = [i.key for i in given if i.interval95 is not None
                   and not i.interval95[0] <= i.value <= i.interval95[1]]  # fmt: skip
        if outside:
            return seed, named, "outside its interval", outside[0]
    except ArterioleError as refusal:
        return seed, named, "refused", type(refusal).__name__
    except Exception as fault:
        last = traceback.extract_tb(fault.__traceback__)[-1]
        at = next((f for f in reversed(traceback.extract_tb(fault.__traceback__))
                   if "arteriole" in f.filename), last)  # fmt: skip
        return seed, named, "escaped", f"{type(fault).__name__} at {at.filename[-40:]}:{at.lineno}"
    return seed, named, "read" if given else "all withheld", ""


def main() -> int:
    ask = argparse.ArgumentParser()
    ask.add_argument("--seeds", default="50000-50199")
    ask.add_argument("--workers", type=int, default=2)
    given = ask.parse_args()
    first, last = (int(x) for x in given.seeds.split("-"))
    state = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True,
                           text=True, check=True).stdout.strip()  # fmt: skip
    with ProcessPoolExecutor(given.workers) as pool:
        rows = list(pool.map(one, range(first, last + 1), chunksize=4))
    ends = Counter(r[2] for r in rows)
    harms = Counter(h for r in rows for h in r[1])
    print("# Damaged, cut and oddly marked recordings\n")
    print(f"State measured: {state}; SIMULATED drawn sessions {first} to {last}, harmed.\n")
    print("| became | sessions |\n|---|--:|")
    for name in (
        "read",
        "all withheld",
        "refused",
        "escaped",
        "not finite",
        "outside its interval",
    ):
        print(f"| {name} | {ends[name]} |")
    print("\nHarms: " + ", ".join(f"{k} {v}" for k, v in sorted(harms.items())) + ".")
    for seed, named, end, where in rows:
        if end in {"escaped", "not finite", "outside its interval"}:
            print(f"\n- {seed} {named}: {end}, {where}")
    return int(any(ends[e] for e in ("escaped", "not finite")))


if __name__ == "__main__":
    sys.exit(main())
