"""Every infusion read: its flow as evidence, what is wrong with it, and why there is no flow."""

from collections.abc import Mapping, Sequence

import numpy as np

from arteriole.episodes import Episode
from arteriole.indices import FlowEvidence, Withheld, pressures_of
from arteriole.recording import Finding, Sheet
from arteriole.signal.beats import Beats, Flags
from arteriole.study.measure import Measurement
from arteriole.study.result import Infusion
from arteriole.thermo import ContinuousReading, Pulse, read_continuous
from arteriole.thermo.continuous import FAULT_WORDS
from arteriole.thermo.pulse import LEFT_RATIO, RIGHT_RATIO, USUAL_LAG_S

USUAL_SYSTOLE = 0.36  # of the beat, where no notch is seen; from memory
#: What to do about each fault; the first that holds is the reason there is no flow.
REMEDIES = {
    "no_rate": "Enter the pump's rate for this state on the sheet.",
    "no_plateau": "Infuse until T is steady, then draw the sensor to the outlet and wait for Ti.",
    "clipped": "Record with a wider temperature range; the infusion cannot be read from this file.",
    "ti_warm": "Check that the sensor lay at the infusion's outlet while Ti was read.",
    "ratio_small": "Check that the sensor lay well downstream for T and at the outlet for Ti.",
    "t_small": "Repeat with a faster or colder infusion, or the sensor nearer to the outlet.",
    "blood_moved": "Set the temperature to zero in blood and repeat the infusion.",
    "ti_small": "Check that the sensor lay at the outlet, and the infusate's temperature.",
    "slow_infusion": "Repeat at 8 to 10 mL/min or more at rest, 20 mL/min in hyperaemia.",
    "unsteady": "Look at the trace; repeat the infusion if T does not settle.",
    "blood_unsteady": "Let blood's temperature settle before the infusion, and repeat.",
}
NOT_FOUND = Withheld(
    reason="No infusion in this state was found.",
    do="Mark the infusion on the sheet if there was one.",
)


def infusions_of(
    measurement: Measurement, episodes: Sequence[Episode], sheet: Sheet
) -> tuple[Infusion, ...]:
    """Return the reading of every infusion, in order of time."""
    grid = measurement.grid
    if grid.temp_c is None:
        return ()
    rows = []
    for one in (e for e in episodes if e.kind == "infusion"):
        hyper = one.phase == "hyperaemia"
        rate = sheet.continuous.hyperaemia_ml_min if hyper else sheet.continuous.rest_ml_min
        reading = read_continuous(
            temp_c=grid.temp_c, rate_hz=grid.rate_hz, start_s=grid.start_s,
            infusion_start_s=one.start_s, infusion_end_s=one.end_s, infusion_ml_min=rate,
            pulse=_pulse(measurement.beats, sheet, hyper=hyper),
        )  # fmt: skip
        rows.append(
            Infusion(
                phase="hyperaemia" if hyper else "rest", start_s=one.start_s, end_s=one.end_s,
                source="marked" if one.source == "marked" else "found", reading=reading,
            )
        )  # fmt: skip
    return tuple(rows)


def flows_of(
    measurement: Measurement, infusions: Sequence[Infusion], clean: Flags
) -> tuple[FlowEvidence, ...]:
    """Return the flow of every infusion that gives one."""
    rows = []
    for one in infusions:
        got = one.reading
        if got.q_ml_min is None or got.mixed is None:
            continue
        window = (got.mixed.start_s, got.mixed.end_s)
        beats = measurement.beats
        during = pressures_of(beats, beats.within((window,)) & clean)
        rows.append(
            FlowEvidence(
                phase=one.phase, q_ml_min=got.q_ml_min, sd_ml_min=dict(got.sd_ml_min),
                pa_mmhg=during.pa_mmhg if during else None,
                pd_mmhg=during.pd_mmhg if during else None,
                infusion_ml_min=got.infusion_ml_min, t_c=got.t_c, ti_c=got.ti_c,
                start_s=window[0], end_s=window[1], q_plain_ml_min=got.q_plain_ml_min,
            )
        )  # fmt: skip
    return tuple(rows)


def findings_of(infusions: Sequence[Infusion]) -> tuple[Finding, ...]:
    """Return what is implausible or unsteady about the infusions."""
    return tuple(
        Finding(
            code=f"infusion_{fault}", severity="caution", channel="temp",
            start_s=one.start_s, end_s=one.end_s,
            message=f"Infusion ({one.phase}): {_words(fault, one.reading)}.",
            do=REMEDIES[fault],
        )
        for one in infusions
        for fault in one.reading.faults
    )  # fmt: skip


def refusals_of(infusions: Sequence[Infusion]) -> Mapping[str, Withheld]:
    """Return why a state has no flow, under the codes the indices ask for."""
    refusals = {}
    for phase, name in (("rest", "continuous_rest"), ("hyperaemia", "continuous_hyper")):
        readings = [i.reading for i in infusions if i.phase == phase]
        if any(r.q_ml_min is not None for r in readings):
            continue
        refusals[name] = _refusal(readings[-1], phase) if readings else NOT_FOUND
    return refusals


def _refusal(reading: ContinuousReading, phase: str) -> Withheld:
    for fault, remedy in REMEDIES.items():
        if fault in reading.faults:
            return Withheld(reason=f"Infusion ({phase}): {_words(fault, reading)}.", do=remedy)
    return NOT_FOUND


def _words(fault: str, reading: ContinuousReading) -> str:
    """Return the fault in words with the numbers that show it."""
    words, t, ti = FAULT_WORDS[fault], reading.t_c, reading.ti_c
    shown = {"ti_warm": (t, ti), "ratio_small": (t, ti), "t_small": (t, None),
             "ti_small": (None, ti)}.get(fault)  # fmt: skip
    if shown is not None:
        named = zip(("T", "Ti"), shown, strict=True)
        words += f" ({', '.join(f'{n} {v:.2f} °C' for n, v in named if v is not None)})"
    if fault == "slow_infusion" and reading.infusion_ml_min is not None:
        words += f" ({reading.infusion_ml_min:g} mL/min)"
    if fault == "clipped" and reading.between_ml_min is not None:
        words += f"; Q is more than {reading.between_ml_min[0]:.0f} mL/min"
    if fault == "blood_moved" and reading.blood is not None:
        words += f" by {reading.blood.moved_c:+.2f} °C meanwhile"
        if reading.between_ml_min is not None:
            low, high = reading.between_ml_min
            words += f"; Q would be {low:.0f} or " + (
                f"{high:.0f} mL/min" if np.isfinite(high) else "more"
            )
    return words.replace("-", "−")


def _pulse(beats: Beats, sheet: Sheet, *, hyper: bool) -> Pulse | None:
    """Return the beats found on Pa with the phasic ratio of the vessel's side."""
    on = ~beats.on_pd
    if not on.any():
        return None
    systole = np.where(
        beats.notch_i >= 0, (beats.notch_i - beats.start_i) / beats.rate_hz,
        USUAL_SYSTOLE * beats.length_s,
    )  # fmt: skip
    lag = sheet.sensor_lag_s
    return Pulse(
        start_s=beats.start_s[on], notch_s=(beats.start_s + systole)[on], end_s=beats.end_s[on],
        ratio=(RIGHT_RATIO if sheet.right_artery else LEFT_RATIO)[1 if hyper else 0],
        lag_s=USUAL_LAG_S if lag is None else lag,
    )  # fmt: skip
