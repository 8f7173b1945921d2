"""Where every fault lies: name -> spans and what belongs to it."""

from collections.abc import Sequence
from typing import Any

from arteriole.simulate.acts import (
    Adenosine,
    BaselineShift,
    Clip,
    Equalise,
    Inject,
    LineFault,
    Lost,
    Migrate,
    Wedge,
    Whip,
    of_kind,
)  # fmt: skip
from arteriole.simulate.course import Course


def spans_of(course: Course, artefacts: Sequence[str]) -> dict[str, Any]:
    """Return for each artefact its spans (start s, end s) and size."""
    return {name: _span(name, course) for name in artefacts}


def _span(name: str, course: Course) -> dict[str, Any]:
    acts, p = course.acts, course.patient
    end = float(course.t_s[-1])
    drugs = of_kind(acts, Adenosine)
    equalised = of_kind(acts, Equalise)[0]
    match name:
        case "slow_injection" | "inhomogeneous_injection" | "early_injection" | "small_injection":
            kind = name.removesuffix("_injection")
            found = [i for i in of_kind(acts, Inject) if i.quality == kind]
            return {
                "spans": [[i.start_s, i.end_s] for i in found],
                "injections": [[i.state, i.index] for i in found],
            }
        case "submaximal_hyperaemia" | "unstable_hyperaemia":
            said = {"spans": [[d.start_s, d.end_s] for d in drugs], "drug_gain": p.drug_gain}
            if name == "unstable_hyperaemia":
                said |= {"wave": p.drug_wave, "wave_s": p.drug_wave_s}
            return said
        case "wire_migration":
            m = of_kind(acts, Migrate)
            return {"spans": [[a.start_s, end] for a in m], "x_to": [a.to for a in m]}
        case "temp_baseline":
            b = of_kind(acts, BaselineShift)
            return {"spans": [[a.start_s, end] for a in b], "offset_degC": [a.shift_c for a in b]}
        case "pd_drift" | "pd_step":
            return {"spans": [[equalised.end_s, end]], "drift_mmHg": p.drift_mmhg}
        case "eq_offset":
            return {"spans": [[equalised.end_s, end]], "eq_offset_mmHg": equalised.error_mmhg}
        case "damped_pa" | "air" | "ringing":
            lines = [f for f in of_kind(acts, LineFault) if f.kind == name]
            return {
                "spans": [[f.start_s, f.end_s] for f in lines],
                "line_hz": [f.line_hz for f in lines],
                "damping": [f.damping for f in lines],
            }
        case "guide_wedge":
            return {"spans": [[w.start_s, w.end_s] for w in of_kind(acts, Wedge)]}
        case "whip":
            return {"spans": [[w.start_s, w.end_s] for w in of_kind(acts, Whip)]}
        case "ectopy":
            at = course.beats.onset_s[course.beats.extra]
            return {"spans": [[float(t), float(t) + 0.5] for t in at if 0.0 <= t < end]}
        case "af":
            return {"spans": [[0.0, end]], "sd_ln_rr": p.atrial_fibrillation}
        case "dropout":
            gaps = of_kind(acts, Lost)
            return {
                "spans": [[g.start_s, g.end_s] for g in gaps],
                "channels": [g.channel for g in gaps],
            }
        case _:
            cut = of_kind(acts, Clip)
            return {
                "spans": [[k.start_s, k.end_s] for k in cut],
                "channels": [k.channel for k in cut],
                "limits": [[k.low, k.high] for k in cut],
            }
