"""Bolus indices: inputs by name, the onset convention beside, what cannot be is withheld."""

from dataclasses import replace
from statistics import median

from arteriole.indices.about import NO_SIDE, About, Ways, Where, give, withhold
from arteriole.indices.evidence import Evidence, State
from arteriole.indices.ffr_readings import ffr_quantity
from arteriole.indices.ground import Ground, ground_of
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.indices.occlusion import below_venous, occluded, too_near
from arteriole.indices.quantity import Formula, Quantity, combine
from arteriole.thermo.lag import SMALLEST_LEFT, lag_range_s

PHASES: tuple[State, ...] = ("rest", "hyperaemia")
LAG = "sensor lag"  # how the values without it are named
YONG_EQUAL_RATIO = 0.914  # above this Pd/Pa the Yong form is larger than plain IMR; from its terms
REFUSALS = {
    "tmn_rest_s": ("bolus_rest",), "tmn_hyper_s": ("bolus_hyper", "hyperaemia"),
    "pd_rest_mmhg": ("bolus_rest", "rest"), "pa_rest_mmhg": ("bolus_rest", "rest"),
    "pd_hyper_mmhg": ("bolus_hyper", "hyperaemia"), "pa_hyper_mmhg": ("bolus_hyper", "hyperaemia"),
    "occlusion_mmhg": ("imr_occlusion",), "cfr": ("bolus_rest", "bolus_hyper"),
    "ffr": ("ffr", "hyperaemia"),
}  # fmt: skip
WANTED = {
    "tmn_rest_s": Withheld(
        reason="No usable resting injection was read.",
        do="Repeat the resting injections, or review their verdicts."),
    "tmn_hyper_s": Withheld(
        reason="No usable injection in hyperaemia was read.",
        do="Repeat the injections while hyperaemia is steady, or review their verdicts."),
    "occlusion_mmhg": Withheld(
        reason="No coronary occlusion pressure is on the sheet.",
        do="Enter coronary_occlusion_mmhg if it was measured."),
}  # fmt: skip
BEFORE = Withheld(
    reason="No clean whole beats just before the injections.",
    do="Wait for a few undisturbed beats before each injection.",
)
TOO_SHORT = Withheld(
    reason="The sensor's lag is most of the transit time; too little would be left.",
    do="Check sensor_lag_s on the sheet.",
)
NOT_PHYSICAL = Withheld(
    reason="The pressures do not allow this form: Pd/Pa outside its domain.",
    do="Use plain IMR.",
)


def bolus_index(
    about: About,
    evidence: Evidence,
    formula: Formula,
    names: tuple[str, ...],
    *,
    lag_removed: bool = False,
) -> Index:
    """Return the index whose inputs have these names, or why there is none."""  # fmt: skip
    ground = ground_of(evidence)
    typed = ground.typed(about.key)
    if typed is not None:
        notes = ("As typed; its time-zero convention is not known.",)
        return give(_domain(about, evidence, None), typed, inputs={}, notes=notes)
    if about.key in evidence.refusals:
        return withhold(about, evidence.refusals[about.key])
    given: list[Quantity] = []
    for name in names:
        one = _input(ground, name, lag_removed=lag_removed)
        if one is None:
            wanted = _wanted(ground, name, lag_removed=lag_removed)
            return withhold(about, ground.why(*REFUSALS[name], otherwise=wanted))
        given.append(one)
    values = dict(zip(names, (q.value for q in given), strict=True))
    if "occlusion_mmhg" in values:
        by_name = dict(zip(names, given, strict=True))
        pd, pa, pw = (by_name[n] for n in ("pd_hyper_mmhg", "pa_hyper_mmhg", "occlusion_mmhg"))
        refusal = below_venous(ground, pw.value) or too_near(pw, pd, pa)
        if refusal is not None:
            return withhold(about, refusal)
    quantity = combine(formula, *given)
    if quantity.value <= 0.0:
        return withhold(about, NOT_PHYSICAL)
    shown = _shown(ground, names, formula, values, lag_removed=lag_removed)
    ways = Ways(
        shown=shown,
        onset=None if lag_removed else _onset(ground, names, formula, values),
    )
    return give(
        _domain(about, evidence, values), quantity, inputs=values, where=_where(ground, names),
        ways=ways, corrected_for=_corrections(about.key, evidence, lag_removed=lag_removed),
        notes=(
            _note(about.key, values, evidence.settings.yong_max_ffr),
            _lag_note(about, evidence.sheet.sensor_lag_s, shown), _zero_note(about, evidence),
        ),
    )  # fmt: skip


def cfr_quantity(ground: Ground) -> Quantity | None:
    """Return CFR by bolus, typed or from the injections."""
    typed = ground.typed("cfr_bolus")
    if typed is not None:
        return typed
    rest, hyper = ground.tmn("rest"), ground.tmn("hyperaemia")
    return None if rest is None or hyper is None else combine(lambda a, b: a / b, rest, hyper)


def _phase(name: str) -> State:
    return "rest" if "rest" in name else "hyperaemia"


def _input(ground: Ground, name: str, *, lag_removed: bool) -> Quantity | None:
    phase = _phase(name)
    if name.startswith("tmn"):
        return ground.tmn_without_lag(phase) if lag_removed else ground.tmn(phase)
    if name == "occlusion_mmhg":
        return occluded(ground)
    if name == "cfr":
        return cfr_quantity(ground)
    if name == "ffr":
        return ffr_quantity(ground.evidence)
    return ground.before(phase)[0 if name.startswith("pd") else 1]


def _wanted(ground: Ground, name: str, *, lag_removed: bool) -> Withheld:
    if lag_removed and name.startswith("tmn") and ground.tmn(_phase(name)) is not None:
        return TOO_SHORT
    if name == "cfr":
        first = "tmn_rest_s" if ground.tmn("rest") is None else "tmn_hyper_s"
        return WANTED[first]
    return WANTED.get(name, BEFORE)


def _onset(
    ground: Ground, names: tuple[str, ...], formula: Formula, values: dict[str, float]
) -> float | None:
    swapped = dict(values)
    for name in names:
        if name.startswith("tmn"):
            onset = ground.tmn_onset_s(_phase(name))
            if onset is None:
                return None
            swapped[name] = onset
    if "cfr" in names:
        rest, hyper = ground.tmn_onset_s("rest"), ground.tmn_onset_s("hyperaemia")
        if rest is None or hyper is None or ground.typed("cfr_bolus") is not None:
            return None
        swapped["cfr"] = rest / hyper
    return None if swapped == values else float(formula(*(swapped[n] for n in names)))


def _shown(
    ground: Ground,
    names: tuple[str, ...],
    formula: Formula,
    values: dict[str, float],
    *,
    lag_removed: bool,
) -> dict[str, float]:
    """Return the same index by the median, with one injection left out, and without the lag.

    Each input that hangs on a mean transit time is made anew from the times of both states.
    """
    phases = [p for p in PHASES if "cfr" in names or any(_is_tmn(n, p) for n in names)]
    single = {p: ground.times_s(p, lag_removed=lag_removed) for p in phases}
    given = {p: sum(times) / len(times) for p, times in single.items() if times}
    if not given or len(given) < len(phases) or (
        "cfr" in names and ground.typed("cfr_bolus") is not None
    ):  # fmt: skip
        return {}

    def with_times(times: dict[State, float]) -> float:
        made = dict(values)
        for name in names:
            if name.startswith("tmn"):
                made[name] = times[_phase(name)]
            elif name == "cfr":
                made[name] = times["rest"] / times["hyperaemia"]
        return float(formula(*(made[n] for n in names)))

    medians, left_out = dict(given), dict[str, float]()
    for phase, times in single.items():
        if len(times) < 2:
            continue
        medians[phase] = median(times)
        for one, time_s in zip(ground.injections(phase), times, strict=True):
            left = (sum(times) - time_s) / (len(times) - 1)
            left_out[f"without {one.label}"] = with_times(given | {phase: left})
    shown = {"median of injections": with_times(medians)} if medians != given else {}
    shown |= left_out
    if not lag_removed:
        shown |= {
            f"{LAG} {lag:g} s taken out": with_times({p: t - lag for p, t in given.items()})
            for lag in _lags_s(ground)
            if all(t - lag >= SMALLEST_LEFT * t for t in given.values())
        }
    return shown


def _lags_s(ground: Ground) -> tuple[float, ...]:
    """Return the sensor's lag on the sheet, else the ends of what such sensors show, s."""
    known = ground.evidence.sheet.sensor_lag_s
    if known is None:
        return lag_range_s(None)
    return (known,) if known > 0.0 else ()


def _is_tmn(name: str, phase: State) -> bool:
    return name.startswith("tmn") and _phase(name) == phase


def _where(ground: Ground, names: tuple[str, ...]) -> Where:
    phases: list[State] = []
    if any("rest" in n or n == "cfr" for n in names):
        phases.append("rest")
    if any("hyper" in n or n == "cfr" for n in names):
        phases.append("hyperaemia")
    rows = [i for p in phases for i in ground.injections(p)]
    windows = tuple(
        (i.time_s, i.time_s + i.tmn_s) for i in rows if i.time_s is not None and i.tmn_s is not None
    )
    beats = sum(i.beats_before or 0 for i in rows)
    return Where(windows_s=windows, beats=beats or None)


def _domain(about: About, evidence: Evidence, values: dict[str, float] | None) -> About:
    """Return the index with its lines as the laboratory and the form's domain allow."""
    settings = evidence.settings
    lines = about.cutoffs
    if about.key == "cfr_bolus" and lines[0].value != settings.cfr_line:
        own = Cutoff(
            name="CFR, the laboratory's line", relation="<", value=settings.cfr_line,
            source=f"settings {settings.version}",
        )  # fmt: skip
        lines = (own, *(c for c in lines if c.value != settings.cfr_line))
    if lines and lines[0].name == "IMR" and lines[0].value != settings.imr_line:
        own = Cutoff(
            name="IMR, the laboratory's line", relation=">=", value=settings.imr_line,
            source=f"settings {settings.version}",
        )  # fmt: skip
        lines = (own, *lines)
    if about.key == "imr_corrected" and values is not None:
        ratio = values["pd_hyper_mmhg"] / values["pa_hyper_mmhg"]
        if ratio > settings.yong_max_ffr:
            why = f"{NO_SIDE}Pd/Pa {ratio:.2f} is above {settings.yong_max_ffr:g}, use plain IMR"
            lines = tuple(replace(c, note=why) for c in lines)
    return replace(about, cutoffs=lines)


def _corrections(key: str, evidence: Evidence, *, lag_removed: bool) -> tuple[str, ...]:
    if lag_removed:
        used = [i for i in evidence.injections if i.usable]
        late = ("catheter fill",) if any(i.cold_late_s > 0.0 for i in used) else ()
        beat = ("part of the beat",) if any(i.beat_factor != 1.0 for i in used) else ()
        return ("sensor lag", *late, *beat)
    return {
        "imr_corrected": ("collateral flow, Yong form",),
        "imr_occlusion": ("collateral flow, occlusion pressure",),
        "cfr_over_ffr": ("epicardial stenosis",), "mrr_bolus": ("epicardial stenosis",),
    }.get(key, ())  # fmt: skip


def _note(key: str, values: dict[str, float], domain: float) -> str:
    if key != "imr_corrected":
        return ""
    ratio = values["pd_hyper_mmhg"] / values["pa_hyper_mmhg"]
    size = "larger" if ratio > YONG_EQUAL_RATIO else "smaller"
    plain = values["pd_hyper_mmhg"] * values["tmn_hyper_s"]
    place = "inside" if ratio <= domain else "outside"
    return (
        f"At Pd/Pa {ratio:.2f} this form is {size} than plain IMR {plain:.1f} and {place} its "
        f"domain, Pd/Pa up to {domain:.2f}; it is meant for a stenosis with collateral flow and "
        "stands beside plain IMR, never in its place."
    )


def _zero_note(about: About, evidence: Evidence) -> str:
    """Return by how much the shaft's time zero was moved, beside the transit times."""
    moved = evidence.zero_moved_s
    if moved is None or not about.key.startswith("tmn") or about.key.endswith("corrected"):
        return ""
    later = "later" if moved > 0.0 else "earlier"
    return (
        f"Time zero by the shaft, {1000.0 * abs(moved):.0f} ms {later} by what the pushes on Pd "
        "show over the whole recording."
    )


def _lag_note(about: About, sheet_lag_s: float | None, shown: dict[str, float]) -> str:
    """Return what the sensor's lag does to flow reserve, in words."""
    lags = {k: v for k, v in shown.items() if k.startswith(LAG)}
    if about.key != "cfr_bolus" or not lags:
        return ""
    words = "; ".join(f"{k}, {v:.{about.decimals}f}" for k, v in lags.items())
    usual = "" if sheet_lag_s is not None else (
        "It is not on the sheet; usual is {:g} to {:g} s.".format(*lag_range_s(None))
    )  # fmt: skip
    return f"The sensor's own lag lowers it: {words} [Meier1954]. {usual}".rstrip()
