"""Quality detectors against simulated truth: per fault and per beat, with binomial intervals.

    python benchmarks/quality.py --seeds 0-111 [--out FILE] [--detail]
    python benchmarks/quality.py --cases DIR

Seed k carries fault k modulo the list below (four in seventeen none), a pattern and a
sampling rate of its own. Sensitivity per fault: sessions in which the fault's finding overlaps its
true time. Per beat for damping: beats inside against outside, edges of 1.5 s left out, beats with
another harm left out. False cautions: any caution or stop of these detectors in a session without a
fault, per hour; and cautions of another kind than the fault put in, per hour of faulty sessions.
The open sessions come from another model; some thresholds were corrected after a look at them.
Intervals: exact binomial 95 % (Clopper and Pearson 1934).
"""

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from arteriole.cohort import Share
from arteriole.quality import grade
from arteriole.recording import Recording
from arteriole.signal import align, find_beats
from arteriole.simulate import PATTERNS, session

FAULTS = (
    "", "", "", "", "damped_pa", "air", "guide_wedge", "ringing", "whip", "ectopy", "af", "dropout",
    "clipping", "wire_migration", "temp_baseline", "pd_step", "pd_drift",
)  # fmt: skip
RATES_HZ = (200.0, 250.0, 500.0, 1000.0)
# fault -> codes that name it
NAMES = {
    "damped_pa": {"pa_damped"}, "air": {"pa_damped"}, "guide_wedge": {"pa_ventricularised"},
    "ringing": {"pa_ringing"}, "whip": {"wire_whip"}, "ectopy": {"ectopy"},
    "af": {"rhythm_irregular"}, "dropout": {"signal_lost"}, "clipping": {"signal_clipped"},
    "wire_migration": {"ratio_step"}, "temp_baseline": {"temp_baseline"},
    "pd_step": {"ratio_step"},
}  # fmt: skip
EDGE_S = 1.5
LATE_S = 4.0  # a finding may begin this late or early


def seeded(first: int, last: int) -> Iterator[tuple[str, Recording, dict[str, Any]]]:
    """Yield (label, recording, truth) of each seed."""
    patterns = list(PATTERNS)
    for k in range(first, last + 1):
        fault = FAULTS[k % len(FAULTS)]
        s = session(
            patterns[(k * 7) % len(patterns)], k, artefacts=[fault] if fault else [],
            rate_hz=RATES_HZ[(k // 3) % 4], pa_during_injection=("flat", "spike", "none")[k % 3],
            ecg_channel=k % 2 == 0,
        )  # fmt: skip
        yield f"seed {k}", s.recording, s.truth


def stored(folder: Path) -> Iterator[tuple[str, Recording, dict[str, Any]]]:
    """Yield (label, recording, truth) of each session folder."""
    from arteriole.formats import read_recording

    for place in sorted(p.parent for p in folder.glob("*/truth.json")):
        truth = json.loads((place / "truth.json").read_text())
        yield place.name, read_recording(place / "recording.csv"), truth


def true_spans(truth: dict[str, Any]) -> dict[str, list[list[float]]]:
    """Return fault -> its true spans."""
    rows: dict[str, list[list[float]]] = {}
    for name, detail in truth.get("artefact_details", {}).items():
        if isinstance(detail, list):
            rows[name] = [detail]
        elif isinstance(detail, dict) and "spans" in detail:
            rows[name] = detail["spans"]
        elif isinstance(detail, dict) and "from_s" in detail:
            rows[name] = [[detail["from_s"], 1e9]]
    for event in truth.get("events", []):
        if event["kind"] in ("guide_wedge", "wire_migration"):
            rows.setdefault(event["kind"], [[event["t0"], event["t1"]]])
    if "ectopy" in truth.get("artefacts", []):
        rows.setdefault("ectopy", [[0.0, 1e9]])
    return rows


def score(rows: Iterator[tuple[str, Recording, dict[str, Any]]], *, detail: bool) -> str:
    """Return the table over all sessions."""
    found: dict[str, list[bool]] = defaultdict(list)
    beats: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    false: dict[str, float] = defaultdict(float)
    hours = {"clean": 0.0, "faulty": 0.0}
    for label, recording, truth in rows:
        grid = align(recording)
        b = find_beats(grid)
        q = grade(grid, b)
        faults, spans = truth.get("artefacts", []), true_spans(truth)
        kind = "faulty" if faults else "clean"
        hours[kind] += (grid.end_s - grid.start_s) / 3600.0
        expected: set[str] = set()
        for fault in faults:
            codes = NAMES.get(fault, set())
            expected |= codes
            if fault not in spans or not codes or not spans[fault]:
                continue
            hit = any(
                f.code in codes and (f.severity != "note" or fault == "af")
                and any(
                    (f.start_s or 0.0) <= e + LATE_S
                    and (f.end_s if f.end_s is not None else 1e9) >= a - LATE_S
                    for a, e in spans[fault]
                )
                for f in q.findings
            )  # fmt: skip
            found[fault].append(hit)
            if detail and not hit:
                print(label, fault, "missed", [(f.code, f.severity, f.start_s) for f in q.findings
                      if f.code in codes], spans[fault][:3])  # fmt: skip
        for f in q.findings:
            if f.severity != "note" and f.code not in expected:
                false[f"{kind} {f.code}"] += 1
                if detail:
                    print(label, faults, "extra", f.code, f.start_s, f.end_s, f.message)
        if any(fault in ("ringing", "guide_wedge") for fault in faults):
            continue
        told = np.array([c == "pa_damped" for c in q.cause])
        other = np.array([c not in ("", "pa_damped") for c in q.cause])
        inside = np.zeros(b.count, dtype=bool)
        edge = np.zeros(b.count, dtype=bool)
        for fault in ("damped_pa", "air"):
            for a, e in spans.get(fault, []):
                inside |= (b.start_s >= a) & (b.end_s <= e)
                for t in (a, e):
                    edge |= (b.end_s > t - EDGE_S) & (b.start_s < t + EDGE_S)
        use = ~other & ~edge
        for name, mask in (("damped", inside & use), ("sound", ~inside & use)):
            beats[name][0] += int((told & mask).sum())
            beats[name][1] += int(mask.sum())
    return table(found, beats, false, hours)


def table(
    found: dict[str, list[bool]], beats: dict[str, list[int]], false: dict[str, float],
    hours: dict[str, float],
) -> str:  # fmt: skip
    """Return the table as Markdown."""
    lines = ["| fault | sessions | named in time | 95 % interval |", "|---|---|---|---|"]
    for fault, hits in found.items():
        low, high = Share(hits=sum(hits), of=len(hits)).interval95
        lines.append(
            f"| {fault} | {len(hits)} | {100 * sum(hits) / len(hits):.0f} % "
            f"| {100 * low:.0f} to {100 * high:.0f} % |"
        )
    lines += ["", "| damping per beat | beats | right | 95 % interval |", "|---|---|---|---|"]
    for name, (hits, tries) in beats.items():
        right = hits if name == "damped" else tries - hits
        if tries:
            low, high = Share(hits=right, of=tries).interval95
            word = "sensitivity" if name == "damped" else "specificity"
            lines.append(
                f"| {word} | {tries} | {100 * right / tries:.2f} % "
                f"| {100 * low:.2f} to {100 * high:.2f} % |"
            )
    lines += ["", "| false cautions | number | hours | per hour |", "|---|---|---|---|"]
    for kind, h in hours.items():
        mine = {k: v for k, v in false.items() if k.startswith(kind)}
        if h:
            lines.append(f"| {kind}, all | {sum(mine.values()):.0f} | {h:.2f} "
                         f"| {sum(mine.values()) / h:.2f} |")  # fmt: skip
        lines += [f"| {k} | {v:.0f} | {h:.2f} | {v / h:.2f} |" for k, v in sorted(mine.items())]
    return "\n".join(lines)


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default=None, help="FIRST-LAST")
    parser.add_argument("--cases", type=Path, default=None)
    parser.add_argument("--out", type=Path, default=None)
    parser.add_argument("--detail", action="store_true")
    given = parser.parse_args()
    if given.cases is not None:
        rows, title = stored(given.cases), "Open sessions"
    else:
        first, last = (int(x) for x in (given.seeds or "0-111").split("-"))
        rows, title = seeded(first, last), f"SIMULATED seeds {first} to {last}"
    text = f"## {title}\n\n{score(rows, detail=given.detail)}\n"
    sys.stdout.write(text)
    if given.out is not None:
        given.out.write_text(text)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
