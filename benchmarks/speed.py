"""Speed of the whole ``analyse`` process on 30 minutes of four channels at 500 Hz.

    python benchmarks/speed.py

Prints times real time, peak memory, and the ratio to a floor: one order-4 Butterworth
``scipy.signal.sosfiltfilt`` pass over the same channels in float64, in the same run. A 30-minute
recording is made of one SIMULATED session and its quiet end repeated. CSV reading is apart.
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.signal import butter, sosfiltfilt

from arteriole import simulate
from arteriole.formats import read_recording, write_recording

RATE, SECONDS = 500, 1800


def half_an_hour():
    session = simulate.session("normal", 11, rate_hz=RATE)
    channels = []
    for name in ("pa", "pd", "temp", "shaft_temp"):
        channel = session.recording.channel(name)
        quiet = channel.values[-20 * RATE :]
        need = RATE * SECONDS - channel.values.size
        more = np.tile(quiet, need // quiet.size + 1)[:need]
        channels.append(replace(channel, values=np.concatenate([channel.values, more])))
    return replace(session.recording, channels=tuple(channels))


def timed(call):
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def main():
    recording = half_an_hour()
    with tempfile.TemporaryDirectory() as folder:
        h5, csv = Path(folder) / "half.h5", Path(folder) / "half.csv"
        write_recording(recording, h5)
        write_recording(recording, csv, lossy=True)
        out = str(Path(folder) / "out.json")
        verb = str(Path(sys.executable).parent / "arteriole")
        command = [verb, "analyse", str(h5), "--json", out, "--quiet"]
        env = os.environ | {"OMP_NUM_THREADS": "1"}
        whole = min(timed(lambda: subprocess.run(command, check=True, env=env)) for _ in range(3))
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        csv_s = min(timed(lambda: read_recording(csv)) for _ in range(2))
        h5_s = min(timed(lambda: read_recording(h5)) for _ in range(3))
    sos = butter(4, 25.0, fs=RATE, output="sos")
    rows = [np.nan_to_num(c.values) for c in recording.channels]
    floor = min(timed(lambda: [sosfiltfilt(sos, r) for r in rows]) for _ in range(3))
    print("| what | measured |\n|---|--:|")
    print(f"| whole `analyse` process from HDF5 | {whole:.2f} s |")
    print(f"| times real time (600 asked) | {SECONDS / whole:.0f} |")
    print(f"| peak memory (1500 MB asked) | {peak:.0f} MB |")
    print(f"| ratio to the floor of {floor:.3f} s | {whole / floor:.1f} |")
    print(f"| reading HDF5 alone | {h5_s:.2f} s |")
    print(f"| reading CSV alone | {csv_s:.2f} s |")


if __name__ == "__main__":
    main()
