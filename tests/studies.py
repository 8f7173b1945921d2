"""Two hand-made studies: one with everything recorded, one with next to nothing."""

import hashlib
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from arteriole.episodes.episode import Episode
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.hyperaemia import Hyperaemia, Sign, Stretch
from arteriole.episodes.pullback_trace import PullbackStep, PullbackTrace
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.interpret.statement import Flip, NextAct, Statement
from arteriole.recording import Channel, Finding, Recording, Settings, Sheet
from arteriole.recording.sheet import sheet_from_mapping
from arteriole.study.result import (
    ChannelSummary,
    Haemodynamics,
    Injection,
    RecordingSummary,
    Result,
)
from arteriole.thermo.curve import BolusReading, TransitCurve

TIMES_S = (135.0, 152.0, 170.0, 240.0, 257.0, 274.0)
RATE_HZ = 250.0
SHEET = {
    "case_id": "demo-017", "vessel": "LAD", "segment": "mid", "wire_position_cm": 7.5,
    "sensor_height_cm": 1.0, "pa_transducer": "fluid", "temp_reference": "relative",
    "sensor_lag_s": 0.15, "bolus_volume_ml": 3.0,
    "hyperaemia": {"agent": "adenosine", "route": "intravenous", "dose": "140 ug/kg/min",
                   "start_s": 196.0},
    "continuous": {"rest_ml_min": 10, "hyperaemia_ml_min": 20}, "pullback": {"length_mm": 80},
    "cvp_mmhg": 6.0, "coronary_occlusion_mmhg": 21.0, "haemoglobin_g_dl": 13.4,
    "caffeine_h": 26.0, "symptoms": ["chest pain on effort"],
    "nitrate": {"dose_ug": 200.0, "time_s": 60.0},
    "guide": {"size_f": 6.0, "side_holes": False, "engaged": True}, "stenosis_percent": 40.0,
    "lvedp_mmhg": 11.0, "prior_infarct": False, "lv_hypertrophy": False, "pacing": False,
    "stage": "before", "arteries_spasm_tested": ["LAD"],
    "spasm_test": [{"agent": "acetylcholine", "dose_ug": 20, "route": "intracoronary",
                    "symptoms": "none", "ecg_change": False, "narrowing_percent": 10,
                    "artery": "LAD", "reliever": "nitrate"}],
    "operator": "reader 3", "date": "2026-03-04", "patient_label": "P-17",
    "free_text": "Second visit.",
}  # fmt: skip


def recording_of(duration_s: float = 390.0) -> Recording:
    n = round(duration_s * RATE_HZ)
    t = np.arange(n) / RATE_HZ
    phase = (t / 0.8) % 1.0
    pulse = np.exp(-(((phase - 0.18) / 0.12) ** 2)) + 0.35 * np.exp(-(((phase - 0.45) / 0.2) ** 2))
    hyper = 1 / (1 + np.exp(-(t - 205) / 4)) * (1 - 1 / (1 + np.exp(-(t - 320) / 4)))
    rng = np.random.default_rng(1)
    pa = 78 - 8 * hyper + 42 * pulse + rng.normal(0, 0.4, n)
    pd = (78 - 8 * hyper) * (0.95 - 0.12 * hyper) + 38 * (1 - 0.2 * hyper) * pulse
    pd += rng.normal(0, 0.4, n)
    temp = rng.normal(0, 0.02, n)
    for k, at in enumerate(TIMES_S):
        tau = 0.45 if k < 3 else 0.18
        u = np.clip(t - at - 0.3, 0, None)
        temp -= (2.6 + 0.3 * k) * u / tau * np.exp(1 - u / tau)
    pd[round(331 * RATE_HZ) : round(334 * RATE_HZ)] = np.nan
    values = (("pa", "mmHg", pa), ("pd", "mmHg", pd), ("temp", "°C", temp))
    return Recording(
        name="full.csv", sha256=hashlib.sha256(pa.tobytes()).hexdigest(), format="csv",
        channels=tuple(
            Channel(name=k, unit=u, rate_hz=RATE_HZ, values=v) for k, u, v in values
        ), simulated=True,
    )  # fmt: skip


def signals_of(recording: Recording) -> SimpleNamespace:
    count = int(recording.duration_s / 0.8)
    size = round(0.8 * RATE_HZ)
    means = {
        f"{c}_mean_mmhg": recording.channel(c).values[: count * size].reshape(-1, size).mean(1)
        for c in ("pa", "pd")
    }
    end = (np.arange(means["pa_mean_mmhg"].size) + 1) * 0.8
    return SimpleNamespace(
        recording=recording, beats=SimpleNamespace(start_s=end - 0.8, end_s=end, **means)
    )


def _injection(recording: Recording, k: int, at: float) -> Injection:
    c = recording.channel("temp")
    a, b = round((at - 1) * RATE_HZ), round((at + 8) * RATE_HZ)
    t, drop = c.times_s()[a:b], -c.values[a:b]
    fit = np.convolve(drop, np.ones(25) / 25, "same")
    rest = k < 3
    tmn = (1.21, 1.18, 1.33, 0.61, 0.58, 0.60)[k]
    return Injection(
        id=f"injection@{at:.1f}", label=f"{'R' if rest else 'H'}{k % 3 + 1}",
        phase="rest" if rest else "hyperaemia", time_s=at, tmn_s=tmn,
        interval95_s=(tmn * 0.94, tmn * 1.06), time_zero="pressure",
        verdict="look again" if k == 2 else "usable", source="found",
        reasons=("12 % longer than the other two at rest",) if k == 2 else (),
        reading=BolusReading(
            time_s=at, end_s=at + 8, zero_s=at, time_zero="pressure", tmn_s=tmn,
            tmn_onset_s=tmn + 0.1, model="wash", sd_s={"time zero": 0.03, "tail": 0.01},
            curve=TransitCurve(t_s=t, drop_c=drop, fit_c=fit, slow_c=0.05 * fit,
                               tail_from_s=at + 2.0),
        ), pa_before_mmhg=92.0, pd_before_mmhg=86.0,
    )  # fmt: skip


def _index(key, label, value, half, cutoff=None, unit="1", method="pressure", **more) -> Index:
    cutoffs = () if cutoff is None else (cutoff,)
    return Index(
        key=key, label=label, unit=unit, method=method, value=value,
        interval95=(value - half, value + half),
        certainty="near the line" if cutoff and abs(value - cutoff.value) < half
        else "clear of the line",
        formula="mean Pd / mean Pa over the same whole beats", source="[Johnson2015]",
        inputs={"pd_mmhg": 76.1, "pa_mmhg": 90.6}, windows_s=((301.2, 306.9),), beats=7,
        cutoffs=cutoffs, **more,
    )  # fmt: skip


def result_of(recording: Recording, sheet: Sheet) -> Result:
    line = {"relation": "<=", "source": "[Johnson2015]", "side": "above"}
    indices = (
        _index("resting_pd_pa", "resting Pd/Pa", 0.945, 0.012,
               Cutoff(name="l", value=0.91, **line)),
        _index("ffr", "FFR", 0.842, 0.02, Cutoff(name="l", value=0.80, **line)),
        _index("ffr_drift_corrected", "FFR, drift removed", 0.851, 0.02,
               Cutoff(name="l", value=0.80, **line), corrected_for=("drift",)),
        _index("tmn_rest", "Tmn rest", 1.24, 0.07, unit="s", method="bolus"),
        _index("tmn_hyper", "Tmn hyperaemia", 0.60, 0.03, unit="s", method="bolus"),
        _index("cfr_bolus", "CFR", 2.08, 0.22, Cutoff(name="l", value=2.0, relation="<",
               source="[Ong2018]", side="above"), method="bolus",
               alternatives={"from medians": 2.02}),
        _index("imr", "IMR", 45.6, 4.1, Cutoff(name="l", value=25.0, relation=">=",
               source="[Ong2018]", side="above"), unit="mmHg·s", method="bolus", decimals=1),
        Index(key="q_rest", label="resting flow", unit="mL/min", method="continuous", value=None,
              interval95=None, certainty="cannot say", formula="Q = 1.08 · (Ti/T) · Qi",
              source="[Aarnoudse2007]",
              withheld=Withheld(reason="No infusion was found.", do="Mark the infusion.")),
    )  # fmt: skip
    end = recording.duration_s
    return Result(
        version="0.1.0", sheet=sheet, settings=Settings(), simulated=recording.simulated,
        recording=RecordingSummary(
            name=recording.name, sha256=recording.sha256, format=recording.format, duration_s=end,
            channels=tuple(
                ChannelSummary(name=c.name, unit=c.unit, rate_hz=c.rate_hz,
                               missing_fraction=c.missing_fraction) for c in recording.channels
            ),
        ),
        episodes=(
            Episode(kind="equalisation", start_s=8.0, end_s=18.0),
            Episode(kind="rest", start_s=80.0, end_s=104.0),
            Episode(kind="hyperaemia", start_s=220.0, end_s=310.0),
            Episode(kind="pullback", start_s=335.0, end_s=360.0, phase="hyperaemia"),
            Episode(kind="drift_check", start_s=365.0, end_s=380.0),
        ),
        injections=tuple(_injection(recording, k, t) for k, t in enumerate(TIMES_S)),
        gauge=Gauge(
            equalisation=GaugeReading(state="matched", offset_mmhg=0.3, ratio=1.003, beats=12,
                                      start_s=8.0, end_s=18.0),
            drift=GaugeReading(state="off", offset_mmhg=-2.4, ratio=0.974, beats=15,
                               start_s=365.0, end_s=380.0),
        ),
        hyperaemia=Hyperaemia(
            state="steady", start_s=228.0, end_s=310.0,
            states=(Stretch(start_s=228.0, end_s=310.0, state="steady"),),
            signs=(Sign(name="distal notch lost", present=True, value=None, unit=""),
                   Sign(name="Pa fall", present=True, value=8.0, unit="%")),
        ),
        indices=indices,
        findings=(
            Finding(code="lost", severity="note", channel="pd", start_s=331.0, end_s=334.0,
                    message="Pd is lost for 3.0 s.", do="Look at the connector."),
            Finding(code="drift_off", severity="caution", channel="pd", start_s=365.0, end_s=380.0,
                    message="Drift of −2.4 mmHg at the end.", do="Read FFR with drift removed."),
        ),
        statement=Statement(
            pattern="raised resistance, preserved reserve",
            sentence="Raised microvascular resistance with preserved flow reserve; the resistance "
                     "is clear of its line, the reserve is near its line; vasospasm not assessed.",
            because=("IMR 45.6 (41.5 to 49.7) ≥ 25 [Ong2018]",
                     "CFR 2.08 (1.86 to 2.30) is not below 2.0 [Ong2018]"),
            not_assessed=("vasospasm in LCx and RCA",), rules="default 1",
        ),
        flips=(Flip(what="CFR", smallest_change="−0.09",
                    would_become="structural microvascular"),),
        next_acts=(NextAct(do="Two more resting injections", gain="would narrow CFR to ±0.15; "
                           "costs about one minute."),),
        haemodynamics={
            "rest": Haemodynamics(heart_rate_bpm=75.0, pa_mmhg=92.0, pd_mmhg=87.0,
                                  pa_systolic_mmhg=121.0, rate_pressure_product=9075.0),
            "hyperaemia": Haemodynamics(heart_rate_bpm=81.0, pa_mmhg=84.0, pd_mmhg=71.0,
                                        pa_systolic_mmhg=113.0, rate_pressure_product=9153.0),
        },
        pullback=PullbackTrace(
            state="hyperaemia", start_s=335.0, end_s=360.0, place=tuple(range(0, 81, 4)),
            place_unit="mm", ratio=tuple(0.84 + 0.16 * (k / 20) ** 2 for k in range(21)),
            steps=(PullbackStep(start_s=350.0, end_s=354.0, start_mm=56.0, end_mm=68.0,
                                drop=0.06, interval95=(0.04, 0.08)),),
            evenness=0.6, sentence="Ratio rises by 0.16 over 80 mm, 0.06 of it in one step.",
        ),
    )  # fmt: skip


@pytest.fixture(scope="session")
def recording() -> Recording:
    return recording_of()


@pytest.fixture(scope="session")
def signals(recording):
    return signals_of(recording)


@pytest.fixture(scope="session")
def full(recording) -> Result:
    return result_of(recording, sheet_from_mapping(SHEET))


@pytest.fixture(scope="session")
def poor(recording) -> Result:
    whole = result_of(recording, Sheet())
    withheld = Withheld(reason="Pa is damped throughout.", do="Flush and record again.")
    return replace(
        whole, injections=(), pullback=None, flips=(), next_acts=(), haemodynamics={},
        gauge=Gauge(equalisation=GaugeReading(), drift=GaugeReading()),
        hyperaemia=Hyperaemia(state="not reached"), episodes=(),
        indices=tuple(replace(i, value=None, interval95=None, withheld=withheld,
                              certainty="cannot say") for i in whole.indices),
        statement=Statement(pattern="cannot say", sentence="Cannot say: no index could be given; "
                            "vasospasm not assessed.", because=(), not_assessed=("vasospasm",),
                            rules="default 1"),
    )  # fmt: skip
