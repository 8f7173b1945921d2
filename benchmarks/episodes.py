"""Episodes found from signals alone against truth: per kind, timing, drift, states, pullback.

    python benchmarks/episodes.py --seeds 0-59 [--out FILE] [--detail]
    python benchmarks/episodes.py --cases DIR

An episode is found when one of its kind overlaps its true time (injections: within 1.5 s of the
true start); precision is the share of those found that overlap a true one. Timing error: found
start minus true start. Drift: found minus true offset at the check. States: share of whole seconds
from the true beginning of building to the pullback whose state agrees; simulated sessions only,
the stored ones have no state per second. Truth begins building when the drug is started, before
any signal can show it, so the share is given three times: from signals alone, with the sheet as the
session gives it (agent and route), and with the start of the drug beside it; clean and faulty
sessions and the two faults of the drug also apart, with the sheet as given.
In brackets: exact binomial 95 % interval (Clopper and Pearson 1934); of states, bootstrap over
sessions.
Pullback: drops and index after the true offset is removed, so they show
the error of the profile alone. Seeds come from ``simulate.drawn_session``, faults and all.
"""

import argparse
import json
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import binomtest

from arteriole.episodes import find_episodes, states_of
from arteriole.episodes.drug_start import with_drug_start
from arteriole.episodes.gauge_check import reading
from arteriole.episodes.pullback_profile import gradient_index, measure_pullback
from arteriole.quality import grade
from arteriole.recording import Recording
from arteriole.recording.settings import Settings
from arteriole.signal import align, find_beats

DRAWS, DRAW_SEED = 2000, 0  # bootstrap over sessions
KINDS = {
    "zeroing": ("zero_open_to_air",), "equalisation": ("equalise",), "flush": ("flush",),
    "rest": ("rest_window",), "injection": ("injection",), "infusion": ("continuous",),
    "hyperaemia": ("adenosine_iv",), "pullback": ("pullback",), "drift_check": ("drift_check",),
}  # fmt: skip
INJECTION_S = 1.5
SLACK_S = {"equalisation": 3.0, "flush": 2.0}
Case = tuple[str, Recording, dict[str, Any]]


def seeded(first: int, last: int) -> Iterator[Case]:
    """Yield (label, recording, truth) of each seed."""
    from arteriole import simulate

    for seed in range(first, last + 1):
        drawn = simulate.drawn_session(seed)
        yield f"seed {seed}", drawn.recording, drawn.truth


def stored(folder: Path) -> Iterator[Case]:
    """Yield (label, recording, truth) of each session folder."""
    from arteriole.formats import read_recording

    for path in sorted(folder.glob("session-*")):
        truth = json.loads((path / "truth.json").read_text())
        yield path.name, read_recording(path / "recording.csv"), truth


def pairs(
    kind: str, found: list[tuple[float, float]], true: list[tuple[float, float]]
) -> tuple[list[tuple[int, int]], int]:
    """Return (true, found) index pairs, and how many found ones overlap a true one."""
    slack = SLACK_S.get(kind, 0.0)
    links, good = [], set()
    for i, (a, b) in enumerate(true):
        fits = [
            j for j, (c, d) in enumerate(found)
            if (abs(c - a) < INJECTION_S if kind == "injection"
                else c - slack <= b and d + slack >= a)
        ]  # fmt: skip
        good.update(fits)
        if fits:
            links.append((i, min(fits, key=lambda j: abs(found[j][0] - a))))
    return links, len(good)


def route_of(recording: Recording) -> str | None:
    """Return the drug's route on the session's sheet, where the recording carries one."""
    return None if recording.sheet is None else recording.sheet.hyperaemia.route


class Tally:
    """Counts and errors over all sessions."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.hits: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
        self.late: dict[str, list[float]] = defaultdict(list)
        self.rows: dict[str, list[float]] = defaultdict(list)
        self.agree: list[tuple[int, int]] = []  # one (agreeing, all) seconds per session
        self.told: list[tuple[int, int]] = []
        self.given: dict[str, list[tuple[int, int]]] = defaultdict(list)
        self.phase = [0, 0]
        self.missed: list[str] = []

    def add(self, label: str, recording: Recording, truth: dict[str, Any]) -> None:
        """Judge one session."""
        grid = align(recording)
        beats = find_beats(grid)
        quality = grade(grid, beats)
        begin = time.perf_counter()
        seen = find_episodes(grid, beats, quality, Settings())
        self.rows["seconds"].append(time.perf_counter() - begin)
        for kind, names in KINDS.items():
            real = [e for e in truth["events"] if e["kind"] in names]
            true = [(e["t0"], e["t1"]) for e in real]
            found = [e for e in seen.episodes if e.kind == kind]
            links, good = pairs(kind, [(e.start_s, e.end_s) for e in found], true)
            for slot, count in enumerate((len(links), len(true), good, len(found))):
                self.hits[kind][slot] += count
            self.late[kind] += [found[j].start_s - true[i][0] for i, j in links]
            if len(links) < len(true) or good < len(found):
                lost = [round(true[i][0], 1) for i in range(len(true))
                        if i not in {k for k, _ in links}]  # fmt: skip
                self.missed.append(
                    f"{label} {truth['artefacts']}: {kind} missed at {lost}, "
                    f"{len(found) - good} not there"
                )
            if kind in {"injection", "infusion"}:
                self.phase[1] += len(links)
                self.phase[0] += sum(
                    real[i].get("state", "")[:4] == found[j].phase[:4] for i, j in links
                )
        self._drift(seen, beats, quality, truth)
        self._pullback(seen, truth)
        self._states(seen, truth, route_of(recording))

    def _drift(self, seen: Any, beats: Any, quality: Any, truth: dict[str, Any]) -> None:
        check = next((e for e in seen.episodes if e.kind == "drift_check"), None)
        if check is None:
            self.rows["no drift"].append(1.0)
            return
        got = reading(beats, quality, check.start_s, check.end_s, Settings()).offset_mmhg
        if got is not None:
            self.rows["drift"].append(abs(got - truth["drift_mmHg_at_check"]))

    def _pullback(self, seen: Any, truth: dict[str, Any]) -> None:
        true = truth.get("pullback")
        drawn = next((e for e in seen.episodes if e.kind == "pullback"), None)
        if not true or drawn is None or "wire_migration" in truth["artefacts"]:
            return
        trace = measure_pullback(seen.trend, drawn, true["length_mm"], truth["drift_mmHg_at_check"])
        if trace is None:
            return
        place, ratio = np.array(trace.place), np.array(trace.ratio)
        self.rows["drop"].append(abs(float(ratio[0] - ratio[-1]) - true["total_drop"]))
        self.rows["index"].append(abs(gradient_index(place, ratio)[0] - true["ppg_index"]))

    def _states(self, seen: Any, truth: dict[str, Any], route: str | None) -> None:
        if "hyperaemia" not in truth:
            return
        true = truth["hyperaemia"]
        stop = min((e["t0"] for e in truth["events"] if e["kind"] == "pullback"), default=np.inf)
        start = next((e["t0"] for e in truth["events"] if e["kind"] == "adenosine_iv"), None)
        alone = states_of(seen)
        given = with_drug_start(alone, None, route)
        kinds = ["all", "faulty" if truth["artefacts"] else "clean"]
        kinds += [a for a in truth["artefacts"] if a.endswith("_hyperaemia")]
        lines = [(self.given[kind], given) for kind in kinds]
        lines += [(self.agree, alone), (self.told, with_drug_start(alone, start, route))]
        for sessions, line in lines:
            agreed = counted = 0
            for second, state in zip(true["second"], true["state"], strict=True):
                if state == "none" or second + 1 > stop:
                    continue
                at = second + 0.5
                said = next((s.state for s in line if s.start_s <= at < s.end_s), "not reached")
                counted += 1
                agreed += said == state
            sessions.append((agreed, counted))

    def table(self, title: str) -> str:
        """Return the table as Markdown."""
        out = [f"## {title}", "",
               "| kind | true | found | sensitivity | precision | start error (p95 abs), s |",
               "|---|---|---|---|---|---|"]  # fmt: skip
        for kind in KINDS:
            hit, true, good, found = self.hits[kind]
            late = np.array(self.late[kind])
            when = f"{np.median(late):+.2f} ({np.percentile(abs(late), 95):.2f})" if (
                late.size) else "-"  # fmt: skip
            sens, prec = share(hit, true), share(good, found)
            out.append(f"| {kind} | {true} | {found} | {sens} | {prec} | {when} |")
        out += ["", "| measure | value | n |", "|---|---|---|"]
        right, tried = share(*self.phase), self.phase[1]
        out.append(f"| phase right (injections, infusions) | {right} | {tried} |")
        states = [("signals alone", self.agree)]
        states += [(f"sheet as given: {kind}", self.given[kind]) for kind in sorted(self.given)]
        states += [("drug start known", self.told)]
        for name, sessions in states:
            seconds = sum(whole for _, whole in sessions)
            out.append(f"| state agrees, {name} | {pooled(sessions)} | {seconds} |")
        for name, key, digits in (
            ("drift, absolute error, mmHg", "drift", 2), ("total drop, absolute error", "drop", 3),
            ("gradient index, absolute error", "index", 3),
            ("time for one session, s", "seconds", 3),
        ):  # fmt: skip
            got = np.array(self.rows[key])
            if got.size:
                out.append(
                    f"| {name}: median, p95 | {np.median(got):.{digits}f}, "
                    f"{np.percentile(got, 95):.{digits}f} | {got.size} |"
                )
        out.append(f"| sessions without a drift check | {len(self.rows['no drift'])} | |")
        return "\n".join(out) + "\n"


def share(part: int, whole: int) -> str:
    """Return a share in percent with its exact binomial interval, "-" of nothing."""
    if not whole:
        return "-"
    low, high = binomtest(part, whole).proportion_ci(0.95, method="exact")
    return f"{100.0 * part / whole:.1f} % ({100.0 * low:.1f}-{100.0 * high:.1f})"


def pooled(sessions: list[tuple[int, int]]) -> str:
    """Return the share of seconds; its interval draws sessions, for seconds of one are not free."""
    counts = np.array(sessions, dtype=float).reshape(-1, 2)
    if not counts.size or not counts[:, 1].sum():
        return "-"
    rng = np.random.default_rng(DRAW_SEED)
    drawn = counts[rng.integers(0, len(counts), (DRAWS, len(counts)))].sum(axis=1)
    low, high = np.percentile(100.0 * drawn[:, 0] / np.maximum(drawn[:, 1], 1.0), [2.5, 97.5])
    return f"{100.0 * counts[:, 0].sum() / counts[:, 1].sum():.1f} % ({low:.1f}-{high:.1f})"


def main(words: list[str]) -> None:
    """Judge the sessions asked for and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default=None)
    parser.add_argument("--cases", type=Path, default=None)
    parser.add_argument("--detail", action="store_true")
    parser.add_argument("--out", type=Path, default=None)
    asked = parser.parse_args(words)
    parts = []
    if asked.cases is not None:
        parts.append((f"Stored sessions, {asked.cases.name}", stored(asked.cases)))
    if asked.seeds is not None:
        first, last = (int(x) for x in asked.seeds.split("-"))
        parts.append((f"Simulated sessions, seeds {asked.seeds} (SIMULATED)", seeded(first, last)))
    texts = []
    for title, cases in parts:
        tally = Tally()
        for case in cases:
            tally.add(*case)
        texts.append(tally.table(title))
        if asked.detail:
            print("\n".join(tally.missed), file=sys.stderr)
    text = "# Episodes\n\n" + "\n".join(texts)
    print(text)
    if asked.out is not None:
        asked.out.write_text(text)


if __name__ == "__main__":
    main(sys.argv[1:])
