"""The order of a session and how a hand carries it out; faults are put in by name."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from arteriole.simulate.acts import (
    Act,
    Adenosine,
    Advance,
    DriftCheck,
    Equalise,
    Flush,
    Infuse,
    Inject,
    Provoke,
    Pullback,
    Window,
    WireIntoGuide,
    Zero,
)  # fmt: skip
from arteriole.simulate.faults import fault_acts

Effect = Literal["flat", "spike", "none"]
DOSE_S = (1.0, 1.5)  # one dose into the artery
STANDS_S = (7.5, 8.5)  # from its end until it stands; decision 0021


@dataclass(slots=True, kw_only=True)
class _Pen:
    """Where the script stands while it is written."""

    rng: np.random.Generator
    chance: np.random.Generator  # for faults, so that a fault moves nothing else
    t: float = 0.0
    acts: list[Act] = field(default_factory=list)

    def wait(self, low_s: float, high_s: float) -> float:
        self.t = round(self.t + float(self.rng.uniform(low_s, high_s)), 3)
        return self.t

    def span(self, low_s: float, high_s: float) -> tuple[float, float]:
        start = self.t
        return start, self.wait(low_s, high_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What kind of session it is to be."""

    continuous: bool = False
    bolus: bool = True
    pullback: bool = True
    pa: Effect = "flat"
    provocation: bool = False
    rest_injections: int = 3
    hyper_injections: int = 3
    route: Literal["intravenous", "intracoronary"] = "intravenous"
    bolus_ml: float = 3.0


def write_script(
    plan: Plan, faults: Collection[str], rng: np.random.Generator
) -> tuple[tuple[Act, ...], float]:
    """Return the acts of a session and its duration in s."""
    own, chance = rng.spawn(2)
    pen = _Pen(rng=own, chance=chance)
    pen.wait(3.0, 6.0)
    a, b = pen.span(6.0, 9.5)
    pen.acts.append(Zero(start_s=a, end_s=b, zeroed_s=round(a + (b - a) * 0.6, 3)))
    pen.wait(4.0, 7.0)
    a, b = pen.span(3.0, 5.0)
    pen.acts.append(WireIntoGuide(start_s=a, end_s=b))
    pen.wait(5.0, 8.0)
    _flush(pen, "saline", plan.pa)
    pen.wait(12.0, 15.0)
    a, b = pen.span(0.5, 0.5)
    error = float(own.normal(0.0, 0.3))
    if "eq_offset" in faults:
        error = float(chance.choice((-1.0, 1.0)) * chance.uniform(3.0, 7.0))
    pen.acts.append(Equalise(start_s=a, end_s=b, error_mmhg=error))
    pen.wait(4.0, 6.0)
    a, b = pen.span(6.0, 9.5)
    pen.acts.append(Advance(start_s=a, end_s=b))
    pen.wait(3.0, 6.0)
    _flush(pen, "contrast", plan.pa)
    pen.wait(40.0, 52.0)
    a, b = pen.span(22.0, 27.0)
    pen.acts.append(Window(start_s=a, end_s=b, state="rest"))
    pen.wait(2.0, 4.0)
    if plan.continuous:
        for state, rate in (("rest", 10.0), ("hyper", 20.0)):
            _infuse(pen, "rest" if state == "rest" else "hyper", rate)
        pen.wait(26.0, 36.0)
    if plan.provocation:
        _provoke(pen)
    if plan.bolus:
        _boluses(pen, "rest", plan, faults)
    elif plan.rest_injections:
        pen.wait(4.0, 8.0)
    pen.wait(10.0, 16.0)
    if plan.route == "intracoronary":
        _doses(pen, plan, faults)
        return _finish(pen, faults)
    start = pen.t
    drug = len(pen.acts)
    pen.acts.append(Adenosine(start_s=start, end_s=start + 1.0, route=plan.route))
    pen.wait(66.0, 84.0)
    if plan.bolus:
        _boluses(pen, "hyper", plan, faults)
        pen.wait(7.0, 9.0)
    a, b = pen.span(22.0, 27.0)
    pen.acts.append(Window(start_s=a, end_s=b, state="hyper"))
    pen.wait(1.5, 3.0)
    if plan.pullback:
        a, b = pen.span(21.0, 31.0)
        pen.acts.append(Pullback(start_s=a, end_s=b, path=_hand(own)))
        pen.wait(1.0, 1.0)
    else:
        pen.wait(4.0, 6.0)
    check, b = pen.span(9.5, 13.0)
    pen.acts[drug] = replace(pen.acts[drug], end_s=round(check + own.uniform(2.0, 6.0), 3))
    pen.acts.append(DriftCheck(start_s=check, end_s=b))
    return _finish(pen, faults)


def _finish(pen: _Pen, faults: Collection[str]) -> tuple[tuple[Act, ...], float]:
    pen.wait(4.0, 7.0)
    pen.t = float(np.ceil(pen.t))  # whole seconds, as some formats need
    pen.acts += fault_acts(pen.acts, pen.t, faults, pen.chance)
    return tuple(sorted(pen.acts, key=lambda x: (x.start_s, type(x).__name__))), pen.t


def _doses(pen: _Pen, plan: Plan, faults: Collection[str]) -> None:
    """Write hyperaemia by single doses into the artery: one before each bolus, one for the ratio.

    A dose stands for some twenty seconds, so nothing is drawn back under it.
    """

    def dose() -> None:
        a, b = pen.span(*DOSE_S)
        pen.acts.append(Adenosine(start_s=a, end_s=b, route="intracoronary"))
        pen.wait(*STANDS_S)

    if plan.bolus:
        _boluses(pen, "hyper", plan, faults, before=dose)
        pen.wait(40.0, 50.0)
    dose()
    a, b = pen.span(8.0, 9.5)
    pen.acts.append(Window(start_s=a, end_s=b, state="hyper"))
    pen.wait(35.0, 45.0)
    a, b = pen.span(9.5, 13.0)
    pen.acts.append(DriftCheck(start_s=a, end_s=b))


def _flush(pen: _Pen, agent: Literal["saline", "contrast"], pa: Effect) -> None:
    a, b = pen.span(1.6, 3.0)
    lost = (round(a - pen.rng.uniform(0.2, 0.6), 3), round(b + pen.rng.uniform(0.3, 1.0), 3))
    pen.acts.append(Flush(
        start_s=a, end_s=b, agent=agent, volume_ml=float(pen.rng.uniform(4.0, 6.0)), pa=pa,
        lost_s=lost,
    ))  # fmt: skip


def _infuse(pen: _Pen, state: Literal["rest", "hyper"], rate: float) -> None:
    a, back = pen.span(44.0, 58.0) if state == "hyper" else pen.span(36.0, 46.0)
    end = pen.wait(10.0, 14.0)
    pen.acts.append(Infuse(start_s=a, end_s=end, back_s=back, state=state, rate_ml_min=rate))
    pen.wait(14.0, 18.0)


def _boluses(
    pen: _Pen,
    state: Literal["rest", "hyper"],
    plan: Plan,
    faults: Collection[str],
    *,
    before: Callable[[], None] | None = None,
) -> None:
    rng = pen.rng
    count = plan.rest_injections if state == "rest" else plan.hyper_injections
    chance = pen.chance
    slow = _chosen("slow_injection", state, count, faults, chance)
    humped = _chosen("inhomogeneous_injection", state, count, faults, chance)
    small = _chosen("small_injection", state, count, faults, chance)
    early = _chosen("early_injection", state, count, faults, chance)
    for i in range(count):
        if i > 0:
            gap = (17.0, 23.0) if state == "rest" else (9.5, 13.5)
            gap = gap if before is None else (40.0, 50.0)
            pen.wait(*((2.2, 3.6) if i == early else gap))
        if before is not None and not (i == early and i > 0):
            before()
        volume = plan.bolus_ml * float(rng.uniform(0.92, 1.08))
        quality: Any = "good"
        a, b = pen.span(0.42, 0.70)
        pieces: tuple[tuple[float, float, float], ...] = ((a, b, 1.0),)
        if i == early and i > 0:
            quality = "early"
        if i == slow:
            quality, b = "slow", a + float(chance.uniform(1.6, 2.3))
            pieces = ((a, b, 1.0),)
        elif i == humped:
            first, gap_s = float(chance.uniform(0.35, 0.5)), float(chance.uniform(0.5, 0.9))
            share = float(chance.uniform(0.4, 0.6))
            second = a + first + gap_s
            b = second + float(chance.uniform(0.35, 0.5))
            quality, pieces = "inhomogeneous", ((a, a + first, share), (second, b, 1.0 - share))
        elif i == small:
            quality, volume = "small", plan.bolus_ml * float(chance.uniform(0.33, 0.45))
            b = a + 0.55 * (b - a)
            pieces = ((a, b, 1.0),)
        pen.t = round(b, 3)
        lost = (round(a - rng.uniform(0.2, 0.6), 3), round(b + rng.uniform(0.3, 1.2), 3))
        pen.acts.append(Inject(
            start_s=a, end_s=b, state=state, index=i + 1, volume_ml=volume, quality=quality,
            pieces=pieces, pa=plan.pa, lost_s=lost,
        ))  # fmt: skip


def _chosen(
    name: str, state: str, count: int, faults: Collection[str], rng: np.random.Generator
) -> int:
    """Return which injection carries a fault, -1 for none; one state at least has one."""
    u, which = rng.random(), int(rng.integers(0, max(count, 1)))
    if name not in faults or count == 0:
        return -1
    if name == "early_injection":
        which = 1 + which % max(count - 1, 1)
    return which if state == "hyper" or u < 0.6 else -1


def _hand(rng: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """Return an uneven pullback: share of time against share of length that is left."""
    speed = np.exp(rng.normal(0.0, 0.35, 12))
    left = 1.0 - np.concatenate(([0.0], np.cumsum(speed) / speed.sum()))
    return tuple((float(u), float(v)) for u, v in zip(np.linspace(0, 1, 13), left, strict=True))


def _provoke(pen: _Pen) -> None:
    """Write a teaching script of a spasm test; its effect is part of the pattern."""
    for dose, narrowing, tone in ((20.0, 0.04, 1.05), (50.0, 0.12, 1.2), (100.0, 0.55, 2.4)):
        a, b = pen.span(20.0, 20.0)
        last = dose == 100.0
        pen.acts.append(Provoke(
            start_s=a, end_s=b + 30.0, agent="acetylcholine", dose_ug=dose, narrowing=narrowing,
            tone=tone, symptoms="usual" if last else "none", ecg_change=last,
        ))  # fmt: skip
        pen.wait(60.0, 75.0)
    a, b = pen.span(2.0, 2.0)
    pen.acts.append(Provoke(
        start_s=a, end_s=b, agent="nitrate", dose_ug=200.0, narrowing=0.0, tone=1.0,
    ))  # fmt: skip
    pen.wait(75.0, 90.0)
