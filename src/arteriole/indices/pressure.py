"""Resting ratios: from the pressures of proven rest to an index."""

from collections.abc import Callable
from dataclasses import replace

from arteriole.indices.about import About, Ways, Where, give, withhold
from arteriole.indices.calibration import EXPECTED
from arteriole.indices.evidence import Evidence, Pressures
from arteriole.indices.gauges_at_rest import CORRECTED, AtRest, pressures_at_rest
from arteriole.indices.ground import Ground, ground_of
from arteriole.indices.index import Index, Withheld
from arteriole.indices.quantity import Formula, Quantity, combine
from arteriole.indices.unproven import widened

NO_REST = Withheld(
    reason="No proven rest with enough clean beats was found.",
    do="Mark a quiet stretch before the drug and the injections as rest.",
)
NO_WINDOW = Withheld(
    reason="The beats of rest do not show this part of the beat on both pressures.",
    do="Use resting Pd/Pa, which needs no landmarks.",
)
#: Placing of notch, foot and delay, and the filter of the lowest ratio, by what simulated sessions
#: show. Two published readings of one window differ by 0.009 [vantVeer2017]; what readers' windows
#: and filters add to this is in the published noise that certainty joins; decision 0057.
WINDOW_SD, LOWEST_SD = 0.0035, 0.0055
#: Mean height of the distal artery above the tip, lying on the back, cm [AlJanabi2019]. The right
#: one has none: its branches lie 5.7 cm below and 1.8 cm above.
USUAL_HEIGHT_CM = {"LAD": 5.26, "LCX": -3.35, "CX": -3.35}
USUAL_HEIGHT = "usual height"
ZERO_TOLD_MMHG = 0.5  # a smaller error of zero moves a ratio of 0.80 by less than 0.001
CM_OF_BLOOD_MMHG = 0.77  # 1050 kg/m3 * 9.81 m/s2 * 0.01 m; computed from the density of blood


def where_of(state: Pressures) -> Where:
    """Return the stretch and beats of a state."""
    return Where(windows_s=state.windows_s, beats=state.beats)


def height_reading(evidence: Evidence, pd_mmhg: float, pa_mmhg: float) -> dict[str, float]:
    """Return the ratio had the sensor lain at the height of the tip: a sensitivity by its label.

    A sensor above the tip reads low: the column of blood between is added [AlJanabi2019]. Where
    nobody wrote the height down, the usual one of the artery is tried; empty where there is none.
    """
    height, name = evidence.sheet.sensor_height_cm, "sensor height"
    if height is None:
        artery = (evidence.sheet.vessel or "").strip()
        height = USUAL_HEIGHT_CM.get(artery.upper())
        name = f"{USUAL_HEIGHT} of the {artery},"
    if height is None:
        return {}
    return {f"{name} {height:g} cm taken out": (pd_mmhg + CM_OF_BLOOD_MMHG * height) / pa_mmhg}


def zero_reading(
    evidence: Evidence, pd_mmhg: float, pa_mmhg: float, *, removed_mmhg: float | None = None
) -> dict[str, float]:
    """Return the ratio without the error of Pa's zero; empty where it is not seen or too small.

    Pd carries the same error where it was set equal to Pa after the zeroing. Where equalisation
    shows that it was not (off by more than the line), what it differs by goes too, unless
    ``removed_mmhg`` of it is off Pd already.
    """
    zero, gap = evidence.pa_zero_mmhg, evidence.equalisation.offset_mmhg
    if zero is None or abs(zero) < ZERO_TOLD_MMHG or zero >= pa_mmhg:
        return {}
    name, left = f"Pa zero of {zero:+.1f} mmHg", 0.0
    if removed_mmhg is None and gap is not None and abs(gap) > evidence.settings.drift_off_mmhg:
        name, left = f"{name} and {CORRECTED} of {gap:+.1f} mmHg", gap
    return {f"{name} taken out": (pd_mmhg - zero - left) / (pa_mmhg - zero)}


def venous_reading(evidence: Evidence, pd_mmhg: float, pa_mmhg: float) -> dict[str, float]:
    """Return (Pd - Pv)/(Pa - Pv) when the venous pressure is on the sheet [Pijls1993]."""
    pv = evidence.sheet.cvp_mmhg
    if pv is None or pv >= pa_mmhg:
        return {}
    return {"(Pd-Pv)/(Pa-Pv)": (pd_mmhg - pv) / (pa_mmhg - pv)}


def resting_pd_pa_of(about: About, evidence: Evidence, formula: Formula) -> Index:
    """Return resting Pd/Pa with the drift-removed reading beside it."""
    ground = ground_of(evidence)
    typed, rest = ground.typed(about.key), evidence.rest
    if typed is not None:
        return give(about, typed, inputs={}, notes=("As typed.",))
    if rest is None:
        return withhold(about, ground.why(about.key, "rest", otherwise=NO_REST))
    held = pressures_at_rest(ground, rest)
    if isinstance(held, Withheld):
        return withhold(about, held)
    pd, pa = held.pd, held.pa
    shown = height_reading(evidence, pd.value, pa.value) | zero_reading(
        evidence, pd.value, pa.value, removed_mmhg=held.removed_mmhg
    )
    return give(
        _told(about, held), widened(combine(formula, pd, pa), evidence.unrest, ground.chance),
        inputs={"pd_mmhg": rest.pd_mmhg, "pa_mmhg": rest.pa_mmhg, **held.inputs},
        where=where_of(rest),
        ways=Ways(shown=shown, readings=_readings(ground, rest, held, rest.pd_mmhg, rest.pa_mmhg)),
        corrected_for=held.corrected_for,
    )  # fmt: skip


def _told(about: About, held: AtRest) -> About:
    """Return the index's words, with the offset in the formula where it was taken off."""
    if held.removed_mmhg is None:
        return about
    return replace(about, text=f"{about.text}; Pd less the offset that the gauge checks show")


def _readings(
    ground: Ground, rest: Pressures, held: AtRest, pd_mmhg: float, pa_mmhg: float
) -> dict[str, float]:
    """Return the value as read where the offset was taken off, else the one with drift removed."""
    if held.removed_mmhg is not None:
        return {"as read": pd_mmhg / pa_mmhg}
    offset = ground.offset_at(rest.middle_s, rest.windows_s) if ground.drift_checked else None
    return {} if offset is None else {"drift removed": (pd_mmhg - offset.value) / pa_mmhg}


def windowed_ratio_of(
    about: About,
    evidence: Evidence,
    formula: Formula,
    *,
    others: tuple[str, ...] = (),
    expected: Callable[[float], float] | None = None,
) -> Index:
    """Return a ratio within the beat; ``others`` are published windows shown beside it.

    ``expected`` gives it from resting Pd/Pa, where a regression was published: shown beside the
    value, or said where there is none.
    """
    ground = ground_of(evidence)
    typed, rest = ground.typed(about.key), evidence.rest
    if typed is not None:
        return give(about, typed, inputs={}, notes=("As typed.",))
    if rest is None:
        return withhold(about, ground.why(about.key, "rest", otherwise=NO_REST))
    if about.key not in rest.ratios:
        return withhold(about, ground.why(about.key, otherwise=_no_window(rest, expected)))
    held = pressures_at_rest(ground, rest)
    if isinstance(held, Withheld):
        return withhold(about, held)
    read, sd = rest.ratios[about.key], rest.ratio_sd.get(about.key, 0.0)
    window_mmhg = rest.window_pa_mmhg.get(about.key, rest.pa_mmhg)
    sd = (sd**2 + (LOWEST_SD if about.key == "full_cycle_ratio" else WINDOW_SD) ** 2) ** 0.5
    own = Quantity(value=read, parts={"pressure": sd * ground.chance.normal(f"own {about.key}")})
    # What the gauges add to mean Pd they add to Pd of the window.
    value = combine(
        lambda ratio, d, a: formula(
            ratio * window_mmhg + (d - rest.pd_mmhg), a + (window_mmhg - rest.pa_mmhg)
        ),
        own, held.pd, held.pa,
    )  # fmt: skip
    value = widened(value, evidence.unrest, ground.chance)
    inputs = {"pd_mmhg": rest.pd_mmhg, "pa_mmhg": rest.pa_mmhg, **held.inputs}
    if held.removed_mmhg is not None:
        inputs |= {"as_read": read, "pa_in_window_mmhg": window_mmhg}
    readings = _readings(ground, rest, held, read * window_mmhg, window_mmhg)
    shown = {
        name.replace("_ratio", " ratio").replace("_", "-"): _shifted(rest, held, name)
        for name in others if name in rest.ratios
    }  # fmt: skip
    if expected is not None:
        shown[EXPECTED] = expected(held.pd.value / held.pa.value)
    return give(
        _told(about, held), value, inputs=inputs, where=where_of(rest),
        ways=Ways(shown=shown, readings=readings),
        corrected_for=held.corrected_for,
    )  # fmt: skip


def _shifted(rest: Pressures, held: AtRest, name: str) -> float:
    """Return a ratio of another window, Pd less what was taken off the mean Pd of rest."""
    return rest.ratios[name] - (held.removed_mmhg or 0.0) / rest.window_pa_mmhg.get(
        name, rest.pa_mmhg
    )


def _no_window(rest: Pressures, expected: Callable[[float], float] | None) -> Withheld:
    if expected is None:
        return NO_WINDOW
    likely = expected(rest.pd_mmhg / rest.pa_mmhg)
    return replace(
        NO_WINDOW,
        do=f"{NO_WINDOW.do.rstrip('.')}; by the published regression it lets expect {likely:.2f}.",
    )
