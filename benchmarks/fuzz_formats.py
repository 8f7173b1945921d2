"""Damaged files per reader: how many are read, how many refused, and whether anything escapes.

Run: python benchmarks/fuzz_formats.py --count 10000 > benchmarks/results/fuzz_formats.md
"""

import argparse
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

import numpy as np

from arteriole.errors import ArterioleError
from arteriole.formats import WRITERS, read_recording, write_recording

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "formats"))
from test_conformance import made
from test_property import damaged


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--count", type=int, default=10_000)
    count = ask.parse_args().count
    warnings.simplefilter("ignore")
    state = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True,
                           text=True, check=True).stdout.strip()  # fmt: skip
    print(f"Damaged files, {count} per reader, seed 2; state measured: {state}\n")
    print("| format | read | refused | escaped | kinds | slowest ms |\n|---|--:|--:|--:|---|--:|")
    for kind in WRITERS:
        rng, seen, slowest, kinds = np.random.default_rng(2), Counter(), 0.0, Counter()
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"a{kind.endings[0]}"
            write_recording(made(size=400), path)
            content = path.read_bytes()
            for _ in range(count):
                path.write_bytes(damaged(content, rng))
                start = time.perf_counter()
                try:
                    read_recording(path)
                    seen["read"] += 1
                except ArterioleError:
                    seen["refused"] += 1
                except Exception as fault:
                    seen["escaped"] += 1
                    kinds[type(fault).__name__] += 1
                slowest = max(slowest, time.perf_counter() - start)
        print(f"| {kind.key} | {seen['read']} | {seen['refused']} | {seen['escaped']} | "
              f"{dict(kinds) or 'none'} | {slowest * 1000:.0f} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
