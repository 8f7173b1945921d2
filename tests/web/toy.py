"""A toy conductor for tests of pages: rules of thumb on a synthetic session, in milliseconds.

It stands in for reading, measuring and deciding only where a test is about pages, edits or speed
of the browser; tests of the whole path use arteriole's own conductor.
"""

import hashlib
import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from arteriole.document import canonical_bytes, to_json
from arteriole.episodes.episode import Episode
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.hyperaemia import Hyperaemia, Sign, Stretch
from arteriole.errors import ChannelUnclear, UnreadableRecording
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.interpret.statement import Flip, NextAct, Statement
from arteriole.recording import Channel, Finding, Recording
from arteriole.recording.mark import mark_id
from arteriole.study.marks import injection_marks, marked_episodes
from arteriole.study.result import (
    ChannelSummary,
    Haemodynamics,
    Injection,
    RecordingSummary,
    Result,
)
from arteriole.thermo.curve import BolusReading, TransitCurve
from arteriole.web.conductor import Conductor

TIMES = (135.0, 152.0, 170.0, 240.0, 257.0, 274.0)
BEAT_S = 0.8


def session(duration_s: float = 390.0, rate_hz: float = 500.0) -> Recording:
    n = round(duration_s * rate_hz)
    t = np.arange(n) / rate_hz
    phase = (t / BEAT_S) % 1.0
    pulse = np.exp(-(((phase - 0.18) / 0.12) ** 2)) + 0.35 * np.exp(-(((phase - 0.45) / 0.2) ** 2))
    hyper = 1 / (1 + np.exp(-(t - 205) / 4)) * (1 - 1 / (1 + np.exp(-(t - 320) / 4)))
    rng = np.random.default_rng(1)
    pa = 78 - 8 * hyper + 42 * pulse + rng.normal(0, 0.4, n)
    pd = (78 - 8 * hyper) * (0.95 - 0.12 * hyper) + 38 * (1 - 0.2 * hyper) * pulse
    pd = pd + rng.normal(0, 0.4, n)
    temp = rng.normal(0, 0.02, n)
    for k, at in enumerate(TIMES):
        tau = 0.45 if k < 3 else 0.18
        u = np.clip(t - at - 0.3, 0, None)
        temp -= (2.6 + 0.3 * k) * u / tau * np.exp(1 - u / tau)
    pa[round(300 * rate_hz)] = 240.0  # one wild sample
    pd[round(331 * rate_hz) : round(334 * rate_hz)] = np.nan
    return Recording(
        name="toy.csv", sha256=hashlib.sha256(pa.tobytes()).hexdigest(), format="csv",
        simulated=True,
        channels=tuple(
            Channel(name=name, unit=unit, rate_hz=rate_hz, values=values)
            for name, unit, values in (("pa", "mmHg", pa), ("pd", "mmHg", pd), ("temp", "°C", temp))
        ),
    )  # fmt: skip


def read(path: Path, column_map: dict[str, str], _sheet: dict[str, Any]) -> Recording:
    """Files of the toy are JSON: {"duration_s": ..., "rate_hz": ...} or a table without units."""
    raw = path.read_bytes()
    sha = hashlib.sha256(raw).hexdigest()
    if raw.startswith(b"a;b;c"):
        if not column_map:
            raise ChannelUnclear("Columns a, b, c are not clear; name them with --map pa=COLUMN.")
        content = {"duration_s": 390.0, "rate_hz": 100.0}
    else:
        try:
            content = json.loads(raw)
        except ValueError:
            raise UnreadableRecording(
                f"{path} is not a recording; CSV, EDF+ or HDF5 is needed. Export it again."
            ) from None
    one = session(content["duration_s"], content["rate_hz"])
    return Recording(name=path.name, sha256=sha, format="csv", channels=one.channels,
                     simulated=content.get("simulated", True))  # fmt: skip


def measure(recording: Recording) -> Any:
    pa, pd = recording.channel("pa"), recording.channel("pd")
    size = round(BEAT_S * pa.rate_hz)
    count = pa.values.size // size
    by_beat = [c.values[: count * size].reshape(count, size).mean(axis=1) for c in (pa, pd)]
    start = np.arange(count) * BEAT_S
    beats = SimpleNamespace(
        count=count, start_s=start, end_s=start + BEAT_S,
        pa_mean_mmhg=by_beat[0], pd_mean_mmhg=by_beat[1],
    )  # fmt: skip
    quality = SimpleNamespace(
        clean=np.isfinite(by_beat[1]),
        spans=(SimpleNamespace(code="lost", channel="pd", start_s=331.0, end_s=334.0),
               SimpleNamespace(code="spike", channel="pa", start_s=299.8, end_s=300.2)),
    )  # fmt: skip
    return SimpleNamespace(recording=recording, beats=beats, quality=quality)


def decide(m: Any, effective: Any, version: str) -> Result:
    recording, sheet = m.recording, effective.sheet
    end = recording.duration_s
    found = [
        Episode(kind="equalisation", start_s=8.0, end_s=18.0),
        Episode(kind="rest", start_s=80.0, end_s=104.0),
        Episode(kind="hyperaemia", start_s=220.0, end_s=310.0),
        Episode(kind="pullback", start_s=335.0, end_s=360.0),
        Episode(kind="drift_check", start_s=365.0, end_s=380.0),
    ]
    episodes = marked_episodes([e for e in found if e.end_s <= end], effective.marks)
    rest = next(e for e in episodes if e.kind == "rest")
    times = [t for t in TIMES if t < end]
    of_found, new = injection_marks(times, effective.marks)
    rows = [(t, of_found.get(k), "found") for k, t in enumerate(times)]
    rows += [(x.time_s, x, "marked") for x in new]
    injections = []
    counts = {"rest": 0, "hyperaemia": 0}
    for t, mark, source in sorted(rows, key=lambda r: r[0]):
        at = mark.time_s if mark and mark.time_s is not None else t
        phase = "rest" if at < 205 else "hyperaemia"
        counts[phase] += 1
        verdict = (mark and mark.verdict) or ("look again" if t == TIMES[2] else "usable")
        label = f"{'RH'[phase != 'rest']}{counts[phase]}"
        injections.append(_injection(recording, at, phase, label, verdict,
                                     "marked" if mark else source, mark))  # fmt: skip
    used = m.beats.pa_mean_mmhg
    inside = (m.beats.start_s >= rest.start_s) & (m.beats.end_s <= rest.end_s)
    pd_pa = float(m.beats.pd_mean_mmhg[inside].mean() / used[inside].mean())
    usable = [i.tmn_s for i in injections if i.verdict in {"usable", "look again"}]
    cfr = float(np.mean(usable)) * 3
    indices = (
        _index("resting_pd_pa", "resting Pd/Pa", pd_pa, 0.02, 0.91, rest),
        _index("ffr", "FFR", 0.84, 0.02, 0.80, rest),
        _index("cfr_bolus", "CFR", cfr, 0.3, effective.settings.cfr_line, rest, method="bolus"),
        Index(key="imr", label="IMR", unit="1", method="bolus", value=None, interval95=None,
              certainty="cannot say", formula="Pd · Tmn", source="[Ng2006]",
              withheld=Withheld(reason="Only one usable injection.", do="See the row.")),
    )  # fmt: skip
    return Result(
        version=version,
        recording=RecordingSummary(
            name=recording.name, sha256=recording.sha256, format=recording.format,
            duration_s=end,
            channels=tuple(ChannelSummary(name=c.name, unit=c.unit, rate_hz=c.rate_hz,
                                          missing_fraction=c.missing_fraction)
                           for c in recording.channels),
        ),
        sheet=sheet, settings=effective.settings, simulated=recording.simulated,
        episodes=episodes, injections=tuple(injections),
        gauge=Gauge(equalisation=GaugeReading(state="matched", offset_mmhg=0.3, ratio=1.003,
                                              lag_s=0.02), drift=GaugeReading()),
        hyperaemia=Hyperaemia(
            state="steady", start_s=228.0, end_s=310.0,
            states=(Stretch(start_s=205.0, end_s=228.0, state="building"),
                    Stretch(start_s=228.0, end_s=310.0, state="steady"),
                    Stretch(start_s=310.0, end_s=325.0, state="fading")),
            signs=(Sign(name="distal notch lost", present=True, value=None, unit=""),),
        ),
        indices=indices,
        findings=(Finding(code="spike", severity="caution", channel="pa", start_s=300.0,
                          end_s=300.0, message="One wild sample on Pa.", do="Look at it."),),
        statement=Statement(pattern="no abnormality measured",
                            sentence=f"Vessel {sheet.vessel or 'not recorded'}: toy.",
                            because=("a toy",), not_assessed=("vasospasm",), rules="default 1"),
        flips=(Flip(what="FFR", smallest_change="−0.04", would_become="obstructive epicardial"),),
        haemodynamics={"rest": Haemodynamics(heart_rate_bpm=75.0, pa_mmhg=92.0),
                       "hyperaemia": Haemodynamics(heart_rate_bpm=81.0, pa_mmhg=84.0)},
        next_acts=(NextAct(do="A drift check.", gain="Narrows FFR from ±0.02 to ±0.01."),),
    )  # fmt: skip


def _injection(recording, at, phase, label, verdict, source, mark) -> Injection:
    channel = recording.channel("temp")
    a, b = round((at - 1) * channel.rate_hz), round((at + 6) * channel.rate_hz)
    t = channel.times_s()[a:b]
    drop = -channel.values[a:b]
    smooth = np.convolve(drop, np.ones(25) / 25, "same")
    tmn = float((np.clip(smooth, 0, None) * (t - at)).sum() / np.clip(smooth, 1e-9, None).sum())
    reading = BolusReading(
        time_s=at, end_s=at + 6, zero_s=at, time_zero="pressure", tmn_s=tmn, tmn_onset_s=tmn + 0.1,
        curve=TransitCurve(t_s=t, drop_c=drop, fit_c=smooth, slow_c=np.zeros_like(smooth),
                           tail_from_s=at + 2.5),
    )  # fmt: skip
    why = (mark.why or "",) if mark and mark.why else ()
    return Injection(
        id=mark_id("injection", at), label=label, phase=phase, time_s=at, tmn_s=tmn,
        interval95_s=(tmn * 0.94, tmn * 1.06), time_zero="pressure", verdict=verdict,
        reasons=why, source=source, reading=reading,
    )  # fmt: skip


def _index(key, label, value, half, line, rest, method="pressure") -> Index:
    side = "below" if value < line else "above"
    return Index(
        key=key, label=label, unit="1", method=method, value=value,
        interval95=(value - half, value + half),
        certainty="near the line" if abs(value - line) < half else "clear of the line",
        formula="mean Pd / mean Pa", source="[Johnson2015]",
        inputs={"pd_mmhg": 80.0, "pa_mmhg": 90.0}, windows_s=((rest.start_s, rest.end_s),),
        beats=30, cutoffs=(Cutoff(name="line", relation="<=", value=line, source="[Johnson2015]",
                                  side=side),),
    )  # fmt: skip


def toy() -> Conductor:
    return Conductor(read=read, measure=measure, decide=decide, to_json=to_json,
                     to_bytes=canonical_bytes)  # fmt: skip


def toy_file(folder: Path, name: str = "toy.csv", **content: Any) -> Path:
    path = folder / name
    path.write_text(json.dumps({"duration_s": 390.0, "rate_hz": 250.0} | content))
    return path


__all__ = ["session", "toy", "toy_file"]
