"""The settings of one session of a cohort, drawn from a seed."""

from dataclasses import dataclass, field

import numpy as np

from arteriole.simulate.faults import ARTEFACTS
from arteriole.simulate.patterns import PATTERNS

CLEAN_SHARE = 0.40
RATES_HZ = (200.0, 250.0, 500.0, 1000.0)
#: Faults that change the rhythm are drawn apart from the others.
RHYTHM = ("ectopy", "af")
MOST_FAULTS = 3
FAST_SHARE, SLOW_SHARE = 0.12, 0.08  # of rates outside the ordinary


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """Arguments for :func:`arteriole.simulate.session`, pattern and seed apart."""

    pattern: str
    seed: int
    artefacts: tuple[str, ...]
    overrides: dict[str, float] = field(default_factory=dict)
    rate_hz: float
    continuous: bool
    shaft: bool
    ecg_channel: bool
    relative: bool
    stepped: bool
    pa_during_injection: str


def draw(seed: int, *, index: int = 0) -> Draw:
    """Return the settings of session ``index`` of the cohort ``seed``.

    About two in five are free of faults; rates of 50 to 140/min, 200 to 1000 Hz, with and
    without shaft and ECG, absolute and relative temperature, 12-bit steps and none.
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, index, 7]))
    names = tuple(PATTERNS)
    pattern = names[int(rng.integers(0, len(names)))]
    clean = bool(rng.random() < CLEAN_SHARE)
    faults: list[str] = []
    u, count = rng.random(), int(rng.integers(1, MOST_FAULTS + 1))
    if not clean:
        others = [a for a in ARTEFACTS if a not in RHYTHM]
        if u < 0.22:
            faults.append(RHYTHM[int(rng.integers(0, 2))])
        faults += [str(a) for a in rng.choice(others, count, replace=False)]
        faults = faults[:MOST_FAULTS]
    overrides: dict[str, float] = {}
    v = rng.random()
    if v < FAST_SHARE:
        overrides["heart_rate_bpm"] = float(rng.uniform(95.0, 140.0))
        overrides["rate_rise"] = 0.0
    elif v < FAST_SHARE + SLOW_SHARE:
        overrides["heart_rate_bpm"] = float(rng.uniform(50.0, 56.0))
    if rng.random() < 0.25:
        overrides["sensor_lag_s"] = float(rng.uniform(0.05, 0.25))
    return Draw(
        pattern=pattern, seed=int(rng.integers(0, 2**31)), artefacts=tuple(sorted(faults)),
        overrides=overrides, rate_hz=float(rng.choice(RATES_HZ)),
        continuous=bool(rng.random() < 0.35), shaft=bool(rng.random() < 0.75),
        ecg_channel=bool(rng.random() < 0.6), relative=bool(rng.random() < 0.3),
        stepped=bool(rng.random() < 0.6),
        pa_during_injection=str(rng.choice(("flat", "spike", "none"), p=(0.55, 0.3, 0.15))),
    )  # fmt: skip
