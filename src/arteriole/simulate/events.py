"""Every act of a session as an event, for the truth document."""

from typing import Any

from arteriole.simulate.acts import (
    Adenosine,
    Advance,
    DriftCheck,
    Equalise,
    Flush,
    Infuse,
    Inject,
    Migrate,
    Provoke,
    Pullback,
    Wedge,
    Window,
    WireIntoGuide,
    Zero,
)  # fmt: skip
from arteriole.simulate.course import Course
from arteriole.simulate.plateau import plateau_span


def events_of(course: Course) -> list[dict[str, Any]]:
    """Return every act as an event with ``t0``, ``t1``, ``kind`` and what belongs to it."""
    rows: list[dict[str, Any]] = []
    for a in course.acts:
        row: dict[str, Any] = {"t0": a.start_s, "t1": a.end_s}
        match a:
            case Zero():
                row |= {"kind": "zero_open_to_air", "zeroed_s": a.zeroed_s}
            case WireIntoGuide():
                row |= {"kind": "wire_into_guide"}
            case Flush():
                row |= {"kind": "flush", "agent": a.agent, "vol": a.volume_ml,
                        "pa_artefact": a.pa, "pa_lost": list(a.lost_s)}  # fmt: skip
            case Equalise():
                row |= {"kind": "equalise"}
            case Advance():
                row |= {"kind": "advance"}
            case Window():
                row |= {"kind": f"{a.state}_window"}
            case Inject():
                row |= {"kind": "injection", "state": a.state, "index": a.index,
                        "vol": a.volume_ml, "quality": a.quality, "pa_artefact": a.pa,
                        "pa_lost": list(a.lost_s)}  # fmt: skip
            case Adenosine():
                row |= {"kind": "adenosine_iv" if a.route == "intravenous" else "adenosine_ic"}
            case Infuse():
                rows.append({"t0": a.start_s, "t1": a.back_s, "kind": "continuous",
                             "state": a.state, "qi": a.rate_ml_min})  # fmt: skip
                row |= {"t0": a.back_s, "kind": "sensor_to_microcath", "state": a.state,
                        "qi": a.rate_ml_min}  # fmt: skip
            case Pullback():
                row |= {"kind": "pullback"}
            case DriftCheck():
                row |= {"kind": "drift_check"}
            case Wedge():
                row |= {"kind": "guide_wedge"}
            case Migrate():
                row |= {"kind": "wire_migration", "x_to": a.to}
            case Provoke():
                row |= {"kind": "provocation", "agent": a.agent}
            case _:
                continue
        rows.append(row)
    span = plateau_span(course)
    rows.append({"t0": span[0], "t1": span[1], "kind": "hyper_plateau"})
    return sorted(rows, key=lambda r: float(r["t0"]))
