"""Transit times against truth: bias, SD, coverage, verdicts, continuous flow, speed.

Usage::

    python benchmarks/transit.py                 # virtual patients, seeds 0-199 (tuning)
    python benchmarks/transit.py 1000 1200       # seeds 1000-1199 (reported once)
    python benchmarks/transit.py ../shared/cases # open sessions: recording.csv, truth.json
    python benchmarks/transit.py --no-shaft ...  # any of these, the shaft channel dropped

Injection times come from the truth, each moved by up to 0.4 s: a finder is right to 0.1 s with a
shaft and late by the first arrival (0.2-0.6 s) without. The last table is the budget of the
physical ratio: what a perfect reading of every curve would leave, by what is taken off (0047).
"""

import csv
import json
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from arteriole.recording import Settings
from arteriole.thermo import grade_injections, read_bolus, read_continuous
from arteriole.thermo.pressure_mark import read_pressure_mark
from arteriole.thermo.tip import TipOffset, at_the_tip, tip_offset

MOVED_S = 0.4
SETTINGS = Settings()


@dataclass
class Case:
    name: str
    rate_hz: float
    rows: dict
    truth: dict
    lag_s: float | None = None  # of the sheet


@dataclass
class Tally:
    bolus: list = field(default_factory=list)
    flow: list = field(default_factory=list)
    ratio: list = field(default_factory=list)
    budget: list = field(default_factory=list)
    prompt: list = field(default_factory=list)
    seconds: float = 0.0
    curves: int = 0


def virtual(first: int, last: int):
    from arteriole.simulate import draw, session_of

    for seed in range(first, last):
        made = session_of(draw(seed))
        rows = {c.name: c.values for c in made.recording.channels}
        rate_hz = made.recording.channels[0].rate_hz
        yield Case(str(seed), rate_hz, rows, made.truth, made.sheet.sensor_lag_s)


def folder(path: Path):
    for case in sorted(p for p in path.iterdir() if (p / "recording.csv").exists()):
        with (case / "recording.csv").open() as file:
            names = next(csv.reader(file))
        table = np.genfromtxt(case / "recording.csv", delimiter=",", skip_header=1)
        rows = {}
        for k, name in enumerate(names):
            word = name.lower()
            key = next((c for c in ("shaft_temp", "temp", "pa", "pd") if word.startswith(c)), word)
            rows[key] = table[:, k]
        truth = json.loads((case / "truth.json").read_text())
        lag_s = json.loads((case / "sheet.json").read_text()).get("sensor_lag_s")
        yield Case(case.name, float(truth["fs"]), rows, truth, lag_s)


def shown(case: Case, at_s: float) -> str:
    """Return what Pa shows of an injection: spike, lost or nothing."""
    mark = read_pressure_mark(
        case.rows["pa"], case.rate_hz, start_s=0.0, from_s=at_s - 2.6, to_s=at_s + 6.0, near_s=at_s
    )
    return mark.kind if mark else "nothing"


def run(cases, tally: Tally, *, drop_shaft: bool = False) -> None:
    for case in cases:
        if drop_shaft:
            case.rows.pop("shaft_temp", None)
        truth, injections = case.truth, case.truth["injections"]
        rng = np.random.default_rng(len(case.name) + int(1000 * injections[0]["t_start"]))
        at = [i["t_start"] + rng.uniform(-MOVED_S, MOVED_S) for i in injections]
        begun = time.process_time()
        readings = [
            read_bolus(
                temp_c=case.rows["temp"], shaft_c=case.rows.get("shaft_temp"),
                pa_mmhg=case.rows["pa"], pd_mmhg=case.rows["pd"], rate_hz=case.rate_hz,
                start_s=0.0, injection_s=at[k],
                next_injection_s=at[k + 1] if k + 1 < len(at) else None, settings=SETTINGS,
            )
            for k in range(len(at))
        ]  # fmt: skip
        tip = tip_offset(readings)
        readings = [at_the_tip(r, tip) for r in readings]
        phases = ["rest" if i["state"] == "rest" else "hyperaemia" for i in injections]
        graded = grade_injections(readings, phases, SETTINGS)
        tally.seconds += time.process_time() - begun
        tally.prompt += prompt(case, at, phases, readings, tip)
        tally.curves += len(readings)
        clean = not truth["artefacts"]
        for k, (i, reading) in enumerate(zip(injections, readings, strict=True)):
            verdict, reasons = graded[k]
            true = i["tmn_classic_s"]
            sd = float(np.sqrt(sum(v * v for v in reading.sd_s.values())))
            tally.bolus.append({
                "case": case.name, "state": i["state"], "quality": i["quality"], "clean": clean,
                "zero": reading.time_zero, "verdict": verdict, "reasons": reasons, "true": true,
                "error": None if reading.tmn_s is None else reading.tmn_s - true,
                "sd": sd, "index": i["index"], "faults": reading.faults,
                "shown": "" if "shaft_temp" in case.rows else shown(case, at[k]),
                "zero_error": None if reading.zero_s is None
                else reading.zero_s - i["t_flow_centroid"],
                "artefacts": truth["artefacts"],
            })  # fmt: skip
        mean, kind = {}, tally.bolus[-1]["shown"]
        for phase in ("rest", "hyperaemia"):
            read = [r.tmn_s for r, p, g in zip(readings, phases, graded, strict=True)
                    if p == phase and r.tmn_s is not None and g[0] == "usable"]  # fmt: skip
            mean[phase] = float(np.mean(read)) if read else None
        if all(mean.values()) and truth["indices"].get("cfr_classic"):
            tally.ratio.append({
                "clean": clean, "shaft": "shaft_temp" in case.rows,
                "cfr": mean["rest"] / mean["hyperaemia"] / truth["indices"]["cfr_classic"] - 1.0,
                "hyper": mean["hyperaemia"] / truth["indices"]["tmn_hyper_classic"] - 1.0,
                "rest": mean["rest"] / truth["indices"]["tmn_rest_classic"] - 1.0,
                "wire": "wire_migration" in truth["artefacts"], "shown": kind,
            })  # fmt: skip
        tally.budget += budget(case)
        for state in ("rest", "hyper"):
            part = (truth.get("continuous") or {}).get(state)
            if part:
                reading = read_continuous(
                    temp_c=case.rows["temp"],
                    rate_hz=case.rate_hz,
                    start_s=0.0,
                    infusion_start_s=part["t_start"],
                    infusion_end_s=part["ti_window"][1],
                    infusion_ml_min=part["qi_ml_min"],
                )
                sd = float(np.sqrt(sum(v * v for v in reading.sd_ml_min.values())))
                tally.flow.append({
                    "case": case.name, "state": state, "clean": clean, "faults": reading.faults,
                    "error": None if reading.q_ml_min is None
                    else reading.q_ml_min / part["q_true_ml_min"] - 1.0,
                    "sd": sd / part["q_true_ml_min"], "artefacts": truth["artefacts"],
                })  # fmt: skip


def prompt(case: Case, at: list, phases: list, readings: list, tip: TipOffset | None) -> list:
    """Return (same verdict, change of Tmn) of readings made 2 s after each curve has ended.

    It has ended where the fitted bolus has fallen to a tenth of its peak.
    """
    rows, n_all = [], case.rows["temp"].size
    for k, whole in enumerate(readings):
        if whole.curve is None or not (whole.curve.fit_c > 0.0).any():
            continue
        fit = whole.curve.fit_c
        end_s = whole.curve.t_s[np.flatnonzero(fit > 0.1 * fit.max())[-1]] + 2.0
        n = min(int(end_s * case.rate_hz), n_all)
        cut = {c: v[:n] for c, v in case.rows.items() if c in {"temp", "shaft_temp", "pa", "pd"}}
        soon = read_bolus(
            temp_c=cut["temp"], shaft_c=cut.get("shaft_temp"), pa_mmhg=cut["pa"],
            pd_mmhg=cut["pd"], rate_hz=case.rate_hz, start_s=0.0, injection_s=at[k],
            next_injection_s=at[k + 1] if k + 1 < len(at) else None, settings=SETTINGS,
        )  # fmt: skip
        soon = at_the_tip(soon, tip)
        then = grade_injections([*readings[:k], soon], phases[: k + 1], SETTINGS)[k]
        later = grade_injections(readings[: k + 1], phases[: k + 1], SETTINGS)[k]
        change = soon.tmn_s / whole.tmn_s - 1.0 if soon.tmn_s and whole.tmn_s else np.nan
        rows.append((then[0] == later[0], change))
    return rows


def budget(case: Case) -> list:
    """Return rows (what was taken off, error of the ratio against quiet stretches, the same
    against the flow just before the injections) from the truth of the curves alone."""
    truth, lag_s = case.truth, case.lag_s
    if lag_s is None or "wire_migration" in truth["artefacts"] or "cfr" not in truth["indices"]:
        return []
    means = {}
    for state in ("rest", "hyper"):
        good = [i for i in truth["injections"] if i["state"] == state and i["quality"] == "good"]
        if not good:
            return []
        read = np.array([i["tmn_classic_s"] for i in good])
        zero = np.array([i["t_flow_centroid"] for i in good])
        out = np.array([i["t_outlet_centroid"] for i in good])
        late = np.array([i.get("t_tip_centroid", i["t_inlet_centroid"]) for i in good]) - zero
        own = truth.get("sensor_lag_true_s")
        true_lag = read - (out - zero) if own is None else np.full(read.size, own)
        ways = {
            "nothing": read, "lag of the sheet": read - lag_s, "true lag": read - true_lag,
            "lag of the sheet and delay of the cold": read - lag_s - late,
            "true lag and delay of the cold": read - true_lag - late,
        }  # fmt: skip
        for way, left in ways.items():
            means[way, state] = float(left.mean())
    index = truth["indices"]
    return [
        (way, ratio / index["cfr"] - 1.0, ratio / index["cfr_bolus_convention"] - 1.0)
        for way in dict.fromkeys(k[0] for k in means)
        for ratio in [means[way, "rest"] / means[way, "hyper"]]
    ]


def line(name: str, rows: list, *, absolute: bool = False) -> str:
    good = [r for r in rows if r["error"] is not None]
    if not good:
        return f"| {name} | 0 | | | | | | |"
    share = np.array([r["error"] / (1.0 if absolute else r["true"]) for r in good])
    inside = np.mean([abs(r["error"]) <= 1.96 * r["sd"] for r in good])
    width = np.median([3.92 * r["sd"] / (1.0 if absolute else r["true"]) for r in good])
    return (
        f"| {name} | {len(good)} | {100 * share.mean():+.1f} | {100 * share.std():.1f} "
        f"| {100 * np.median(np.abs(share)):.1f} | {100 * np.quantile(np.abs(share), 0.95):.1f} "
        f"| {100 * inside:.0f} | {100 * width:.0f} |"
    )


def report(tally: Tally) -> str:
    b = tally.bolus
    head = (
        "| what | n | bias % | SD % | median abs % | 95th abs % | truth in 95 % interval, % "
        "| median width % |\n|---|---|---|---|---|---|---|---|"
    )
    out = [head]
    for state in ("rest", "hyper"):
        here = [r for r in b if r["state"] == state]
        shaft = [r for r in here if r["zero"] == "shaft"]
        out += [
            line(f"Tmn {state}, shaft, clean sessions", [r for r in shaft if r["clean"]]),
            line(f"Tmn {state}, shaft, good injections",
                 [r for r in shaft if r["quality"] == "good"]),
            line(f"Tmn {state}, shaft, faulty sessions, usable",
                 [r for r in shaft if not r["clean"] and r["verdict"] == "usable"]),
            *(line(f"Tmn {state}, no shaft, Pa shows {kind}, good",
                   [r for r in here if r["shown"] == kind and r["quality"] == "good"])
              for kind in ("spike", "lost", "nothing")),
            line(f"Q {state}, clean", [r for r in tally.flow if r["state"] == state and r["clean"]],
                 absolute=True),
            line(f"Q {state}, all", [r for r in tally.flow if r["state"] == state], absolute=True),
        ]  # fmt: skip
    out += ["", "| injections | n | usable % | look again % | repeat % |", "|---|---|---|---|---|"]
    for name, rows in [
        *((q, [r for r in b if r["quality"] == q])
          for q in ("good", "slow", "inhomogeneous", "early", "small")),
        ("good, shaft", [r for r in b if r["quality"] == "good" and r["zero"] == "shaft"]),
        ("slow, inhomogeneous, early", [r for r in b if r["quality"] not in {"good", "small"}]),
        ("the same, shaft",
         [r for r in b if r["quality"] not in {"good", "small"} and r["zero"] == "shaft"]),
    ]:  # fmt: skip
        if rows:
            share = [100 * np.mean([r["verdict"] == v for r in rows])
                     for v in ("usable", "look again", "repeat")]  # fmt: skip
            out.append(f"| {name} | {len(rows)} | " + " | ".join(f"{s:.0f}" for s in share) + " |")
    out += ["", "| ratio of means of usable | n | bias % | SD % | median abs % |"]
    out += ["|---|---|---|---|---|"]
    for name, keep in (
        ("clean, shaft", lambda r: r["clean"] and r["shaft"]),
        ("clean, no shaft", lambda r: r["clean"] and not r["shaft"]),
        ("clean, Pa shows a spike", lambda r: r["clean"] and r["shown"] == "spike"),
        ("clean, Pa lost", lambda r: r["clean"] and r["shown"] == "lost"),
        ("clean, Pa shows nothing", lambda r: r["clean"] and r["shown"] == "nothing"),
        ("faulty, shaft", lambda r: not r["clean"] and r["shaft"] and not r["wire"]),
        ("faulty, no shaft", lambda r: not r["clean"] and not r["shaft"] and not r["wire"]),
    ):
        for key, word in (("cfr", "CFR classic"), ("rest", "Tmn rest, mean"),
                          ("hyper", "Tmn hyperaemia, mean")):  # fmt: skip
            e = np.array([r[key] for r in tally.ratio if keep(r)])
            if e.size:
                cells = (100 * e.mean(), 100 * e.std(), 100 * np.median(np.abs(e)))
                out.append("| {}, {} | {} | {:+.1f} | {:.1f} | {:.1f} |".format(
                    word, name, e.size, *cells))  # fmt: skip
    head = (
        "| physical ratio from perfect curves, taken off | n | bias % | SD % "
        "| against flow before the injections: bias % | SD % |"
    )
    out += ["", head, "|---|---|---|---|---|---|"]
    for way in dict.fromkeys(r[0] for r in tally.budget):
        quiet, before = np.array([r[1:] for r in tally.budget if r[0] == way]).T
        cells = (100 * quiet.mean(), 100 * quiet.std(), 100 * before.mean(), 100 * before.std())
        out.append("| {} | {} | {:+.1f} | {:.1f} | {:+.1f} | {:.1f} |".format(
            way, quiet.size, *cells))  # fmt: skip
    same, change = np.array(tally.prompt, dtype=float).T
    out += ["", f"Read 2 s after the curve's end: same verdict in {100 * same.mean():.1f} % of "]
    out[-1] += (
        f"{same.size}, Tmn moved by {100 * np.nanstd(change):.1f} % (SD) from the whole view."
    )
    lost = sum(r["error"] is None for r in b)
    each = 1000 * tally.seconds / max(tally.curves, 1)
    out += ["", f"Curves that could not be read: {lost} of {len(b)}. Fitted and graded: "]
    out[-1] += f"{each:.1f} ms per curve on one core."
    return "\n".join(out)


def main() -> None:
    words = [w for w in sys.argv[1:] if w != "--no-shaft"]
    tally, drop = Tally(), "--no-shaft" in sys.argv
    if words and not words[0].isdigit():
        run(folder(Path(words[0])), tally, drop_shaft=drop)
    else:
        first, last = (int(words[0]), int(words[1])) if len(words) > 1 else (0, 200)
        run(virtual(first, last), tally, drop_shaft=drop)
    print(report(tally))


if __name__ == "__main__":
    main()
