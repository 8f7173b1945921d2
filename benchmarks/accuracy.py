"""Accuracy against known truth: every key, clean and faulty sessions apart.

    python benchmarks/accuracy.py DIR [--detail] [--json FILE] [--workers N]
    python benchmarks/accuracy.py --seeds 0-199 [--detail]

DIR holds folders with ``recording.csv``, ``sheet.json`` and ``truth.json``. With ``--seeds`` own
virtual patients are simulated; truth has the same keys. Ratios are compared as differences, times,
flows and resistances as per cent of the truth. Coverage is the share of truths inside the 95 %
interval, with its exact binomial interval (Clopper and Pearson 1934).
"""

import argparse
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from arteriole.cohort import Share

# key -> (path in the truth, "abs" or "rel")
TRUTHS = {
    "resting_pd_pa": (("indices", "resting_pdpa"), "abs"),
    "full_cycle_ratio": (("indices", "rfr_rest"), "abs"),
    "diastolic_ratio": (("indices", "dpr_rest"), "abs"),
    "late_diastolic_ratio": (("indices", "wfp_ratio_rest"), "abs"),
    "ffr_plateau_drift_corrected": (("indices", "ffr"), "abs"),
    "ffr_drift_corrected": (("indices", "band"), "abs"),
    "tmn_rest": (("indices", "tmn_rest_classic"), "rel"),
    "tmn_hyper": (("indices", "tmn_hyper_classic"), "rel"),
    "cfr_bolus": (("indices", "cfr_classic"), "rel"),
    "imr": (("indices", "imr_classic"), "rel"),
    "tmn_rest_lag_corrected": (("indices", "tmn_rest"), "rel"),
    "tmn_hyper_lag_corrected": (("indices", "tmn_hyper"), "rel"),
    "cfr_bolus_lag_corrected": (("indices", "cfr_before_injections"), "rel"),
    "imr_lag_corrected": (("indices", "imr"), "rel"),
    "q_rest": (("continuous", "rest", "q_true_ml_min"), "rel"),
    "q_hyper": (("continuous", "hyper", "q_true_ml_min"), "rel"),
    "r_micro_rest": (("continuous", "rest", "r_micro_WU"), "rel"),
    "r_micro_hyper": (("continuous", "hyper", "r_micro_WU"), "rel"),
    "cfr_continuous": (("continuous", "cfr"), "rel"),
    "mrr_continuous": (("continuous", "mrr"), "rel"),
    "pullback_drop": (("pullback", "total_drop"), "abs"),
    "pullback_gradient_index": (("pullback", "ppg_index"), "abs"),
}
# After the wire has moved, volume, Pd and pullback have no single truth; without full hyperaemia
# FFR has none: there the warning is scored, not the number.
NO_TRUTH = {
    "wire_migration": {
        k for k in TRUTHS if k.startswith(("tmn", "cfr_bolus", "imr", "ffr", "pull"))
    },
    "submaximal_hyperaemia": {"ffr_plateau_drift_corrected", "ffr_drift_corrected"},
}


# The stored sessions name three ratios by the abbreviations of the literature.
STORED = {"rfr_rest": "full_cycle_ratio_rest", "dpr_rest": "diastolic_ratio_rest",
          "wfp_ratio_rest": "late_diastolic_ratio_rest"}  # fmt: skip


def dig(tree, path):
    last = path[-1]
    if last == "cfr_before_injections":
        # physical: volume over the flow just before each injection, in both models
        rest, hyper = (tree["indices"].get(f"tmn_{state}") for state in ("rest", "hyper"))
        return rest / hyper if rest and hyper else None
    if last in STORED and isinstance(tree.get(path[0]), dict) and last not in tree[path[0]]:
        path = (*path[:-1], STORED[last])
    for step in path:
        if not isinstance(tree, dict) or tree.get(step) is None:
            return None
        tree = tree[step]
    return tree


def score(document, truth):
    """Return rows (key, error, inside, width, value, truth) of one session."""
    rows = []
    skip = set().union(*(NO_TRUTH.get(a, set()) for a in truth.get("artefacts", [])))
    for index in document["indices"]:
        key = index["key"]
        if key not in TRUTHS or key in skip:
            continue
        path, kind = TRUTHS[key]
        value, interval = index["value"], index["interval95"]
        if key == "ffr_drift_corrected":
            low, high = truth["indices"]["ffr_plateau_min5s"], truth["indices"]["ffr_plateau_mean"]
            true = None if value is None else min(max(value, low), high)
        else:
            true = dig(truth, path)
        if true is None or (isinstance(true, float) and not np.isfinite(true)):
            if value is None and key == "ffr_drift_corrected":
                rows.append((key, None, None, None, None, None))
            continue
        if value is None:
            rows.append((key, None, None, None, None, true))
            continue
        scale = 1.0 if kind == "abs" else 100.0 / true
        inside = None if interval is None else interval[0] <= true <= interval[1]
        width = None if interval is None else (interval[1] - interval[0]) * scale
        rows.append((key, (value - true) * scale, inside, width, value, true))
    drift = document["gauge"]["drift"]
    if truth.get("drift_mmHg_at_check") is not None:
        true = truth["drift_mmHg_at_check"]
        if drift["offset_mmhg"] is None:
            rows.append(("drift_mmhg", None, None, None, None, true))
        else:
            span = drift["offset_interval95_mmhg"]
            inside = None if span is None else span[0] <= true <= span[1]
            width = None if span is None else span[1] - span[0]
            rows.append(
                (
                    "drift_mmhg",
                    drift["offset_mmhg"] - true,
                    inside,
                    width,
                    drift["offset_mmhg"],
                    true,
                )
            )
    return rows


def read_folder(folder):
    from arteriole.formats import read_recording
    from arteriole.formats.sheet_file import read_sheet

    truth = json.loads((folder / "truth.json").read_text())
    sheet = read_sheet(folder / "sheet.json")
    return read_recording(folder / "recording.csv", sheet=sheet), sheet, truth


def read_seed(seed):
    from arteriole import simulate

    session = simulate.drawn_session(seed)
    return session.recording, session.sheet, session.truth


def one(job):
    """Return (name, artefacts, rows, findings, verdicts) of one session; a fault is named."""
    from arteriole import document, study
    from arteriole.recording import Settings

    kind, what = job
    try:
        recording, sheet, truth = read_folder(Path(what)) if kind == "dir" else read_seed(what)
        result = study.analyse(recording, sheet, settings=replace(Settings(), lag_corrected=True))
        found = document.to_json(result)
    except Exception as fault:  # one bad session is a row, not the end of the table
        return str(what), ["crash"], [], [repr(fault)], [], (0, 0), False
    return (
        Path(str(what)).name,
        list(truth.get("artefacts", [])),
        score(found, truth),
        [(f["code"], f["severity"], f["channel"], f["start_s"]) for f in found["findings"]],
        match_verdicts(found["injections"], truth["injections"]),
        states_agree(found["hyperaemia"]["states"], truth),
        any(c["name"] == "shaft_temp" for c in found["recording"]["channels"]),
    )


def states_agree(states, truth):
    """Return (seconds named right, seconds) from the first effect of the drug to the pullback."""
    true = truth.get("hyperaemia") or {}
    stop = min((e["t0"] for e in truth.get("events", []) if e.get("kind") == "pullback"),
               default=np.inf)  # fmt: skip
    right = total = 0
    for second, state in zip(true.get("second", []), true.get("state", []), strict=True):
        if state == "none" or second + 1 > stop:
            continue
        at = second + 0.5
        said = [s["state"] for s in states if s["start_s"] <= at < s["end_s"]]
        right += (said[0] if said else "not reached") == state
        total += 1
    return right, total


def state_line(sessions):
    counts = np.array([s[5] for s in sessions if s[5][1]], dtype=float)
    if not counts.size:
        return
    rng = np.random.default_rng(0)
    picks = rng.integers(0, len(counts), (2000, len(counts)))
    drawn = counts[picks].sum(axis=1)
    low, high = np.percentile(drawn[:, 0] / drawn[:, 1], (2.5, 97.5))
    right, total = counts.sum(axis=0)
    print(f"\nHyperaemia named right in {right / total:.1%} of {total:.0f} seconds "
          f"(bootstrap over {len(counts)} sessions: {low:.1%} to {high:.1%}).")  # fmt: skip


def match_verdicts(found, truth):
    """Return (true quality, verdict, Tmn error %, inside) per true injection."""
    rows = []
    for t in truth:
        near = [i for i in found if abs(i["time_s"] - t["t_start"]) < 3.0]
        if not near:
            rows.append((t["quality"], t["state"], "missed", None, None, None))
            continue
        i = min(near, key=lambda i: abs(i["time_s"] - t["t_start"]))
        error = inside = None
        if i["tmn_s"] is not None:
            error = 100 * (i["tmn_s"] / t["tmn_classic_s"] - 1)
            span = i["interval95_s"]
            inside = None if span is None else span[0] <= t["tmn_classic_s"] <= span[1]
        rows.append((t["quality"], t["state"], i["verdict"], error, inside, i["time_zero"]))
    return rows


def table(sessions, title, keys=(*TRUTHS, "drift_mmhg")):
    print(f"\n### {title} ({len(sessions)} sessions)\n")
    print("| key | n | withheld | bias | SD | median | p95 | worst | inside 95 % | median width |")
    print("|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|")
    for key in keys:
        rows = [r for s in sessions for r in s[2] if r[0] == key]
        if not rows:
            continue
        errors = np.array([r[1] for r in rows if r[1] is not None])
        inside = [r[2] for r in rows if r[2] is not None]
        widths = [r[3] for r in rows if r[3] is not None]
        unit = " %" if TRUTHS.get(key, (0, "abs"))[1] == "rel" else ""
        if errors.size == 0:
            print(f"| {key} | 0 | {len(rows)} | | | | | | | |")
            continue
        fmt = (lambda v: f"{v:.2f}") if unit or key == "drift_mmhg" else (lambda v: f"{v:.4f}")
        held = ""
        if inside:
            low, high = Share(hits=sum(inside), of=len(inside)).interval95
            held = f"{np.mean(inside):.0%} ({low:.0%}-{high:.0%})"
        size = np.abs(errors)
        sd = errors.std(ddof=1) if errors.size > 1 else 0.0
        print(
            f"| {key}{unit} | {errors.size} | {len(rows) - errors.size} | {fmt(errors.mean())} | "
            f"{fmt(sd)} | {fmt(np.median(size))} | {fmt(np.percentile(size, 95))} | "
            f"{fmt(size.max())} | {held} | {fmt(np.median(widths)) if widths else ''} |"
        )


def shaft_tables(sessions):
    """Print the keys of a bolus by what time zero rests on."""
    keys = [k for k in TRUTHS if k.startswith(("tmn", "cfr_bolus", "imr"))]
    for has, words in ((True, "with a shaft channel"), (False, "without a shaft channel")):
        for clean in (True, False):
            some = [s for s in sessions if s[6] is has and (not s[1]) is clean]
            if some:
                table(some, f"{'clean' if clean else 'faulty'}, {words}", keys)


def verdict_table(sessions):
    rows = [v for s in sessions for v in s[4]]
    if not rows:
        return
    print("\n### Verdicts by true quality\n")
    words = ["usable", "look again", "repeat", "left out", "missed"]
    print("| quality | n | " + " | ".join(words) + " |")
    print("|---|--:|" + "--:|" * len(words))
    for quality in sorted({r[0] for r in rows}):
        here = [r for r in rows if r[0] == quality]
        counts = [sum(r[2] == w for r in here) for w in words]
        print(f"| {quality} | {len(here)} | " + " | ".join(map(str, counts)) + " |")


def finding_table(sessions):
    print("\n### Findings of severity caution or stop, by what was put in\n")
    for artefact in sorted({a for s in sessions for a in (s[1] or ["clean"])}):
        here = [s for s in sessions if artefact in (s[1] or ["clean"])]
        codes = {}
        for s in here:
            for code in {f[0] if isinstance(f, tuple) else f for f in s[3]
                         if not isinstance(f, tuple) or f[1] != "note"}:  # fmt: skip
                codes[code] = codes.get(code, 0) + 1
        said = ", ".join(
            f"{c} {n}/{len(here)}" for c, n in sorted(codes.items(), key=lambda x: -x[1])
        )
        print(f"- **{artefact}**: {said or 'none'}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("dir", nargs="?", type=Path)
    parser.add_argument("--seeds", help="A-B, both included")
    parser.add_argument("--detail", action="store_true")
    parser.add_argument("--workers", type=int, default=1)
    args = parser.parse_args()
    if args.seeds:
        low, high = map(int, args.seeds.split("-"))
        jobs = [("seed", s) for s in range(low, high + 1)]
    elif args.dir:
        jobs = [("dir", str(p.parent)) for p in sorted(args.dir.glob("*/truth.json"))]
    else:
        parser.error("give a folder of sessions or --seeds A-B")
    if args.workers > 1:
        with ProcessPoolExecutor(args.workers) as pool:
            sessions = list(pool.map(one, jobs, chunksize=2))
    else:
        sessions = [one(j) for j in jobs]
    crashed = [s for s in sessions if s[1] == ["crash"]]
    sessions = [s for s in sessions if s[1] != ["crash"]]
    if args.detail:
        for name, artefacts, rows, findings, verdicts, *_ in sessions:
            print(f"\n{name} {artefacts or 'clean'}")
            for key, error, inside, _width, value, true in rows:
                print(f"  {key:30} {value!s:>22.22} true {true!s:>9.9} off {error!s:>8.8} {inside}")
            print(
                "  verdicts",
                [(q, s[0], v, e and round(e, 1), i, z) for q, s, v, e, i, z in verdicts],
            )
            print("  findings", [f for f in findings if f[1] != "note"])
    table([s for s in sessions if not s[1]], "clean")
    state_line([s for s in sessions if not s[1]])
    table([s for s in sessions if s[1]], "faulty")
    state_line([s for s in sessions if s[1]])
    shaft_tables(sessions)
    verdict_table(sessions)
    finding_table(sessions)
    for s in crashed:
        print(f"\nCRASH {s[0]}: {s[3][0]}")
    return 1 if crashed else 0


if __name__ == "__main__":
    sys.exit(main())
