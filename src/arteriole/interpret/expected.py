"""What the sheet lets expect of rest and hyperaemia, held against what was found.

The agent and its route say when hyperaemia should be full and how long it holds; caffeine says
what may spoil it. Rest after nitrate is judged where rest is found. Nothing here proposes an agent,
a dose or a repeat of one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.recording.finding import Finding, Severity
from arteriole.recording.sheet import Sheet

#: Methylxanthines are asked to be withheld this long; common practice, no source.
CAFFEINE_H = 12.0
BLUNTED = ("adenosine", "atp", "regadenoson")  # by caffeine [Caffeine2021]
ANAEMIA_G_DL = 10.0  # common practice, no source
SOURCELESS = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What an agent by a route does; ``holds_s``: mean and SD of its plateau, by artery."""

    agent: str
    route: str
    words: str
    source: str
    holds_s: Mapping[str, tuple[float, float]]


NO_END: Mapping[str, tuple[float, float]] = {}
COURSES = (
    Course(
        agent="adenosine", route="intravenous", holds_s=NO_END, source=SOURCELESS,
        words="full within about two minutes of its start and held while it runs",
    ),
    Course(
        agent="adenosine", route="intracoronary", source="[Adjedj2015]",
        holds_s={"left": (21.0, 6.0), "right": (12.0, 13.0)},
        words="a plateau of 21 s (SD 6) in the left and 12 s (SD 13) in the right artery, too "
        "short for three injections of saline",
    ),
    Course(
        agent="atp", route="intravenous", holds_s=NO_END, source=SOURCELESS,
        words="full within about two minutes of its start and held while it runs",
    ),
    Course(
        agent="regadenoson", route="intravenous", holds_s=NO_END, source=SOURCELESS,
        words="full within about a minute of one push; how long it holds differs and it may wane "
        "and return",
    ),
    Course(
        agent="papaverine", route="intracoronary", holds_s=NO_END, source=SOURCELESS,
        words="full within about half a minute and held for about as long",
    ),
    Course(
        agent="nicorandil", route="intracoronary", holds_s=NO_END, source=SOURCELESS,
        words="full within about 20 s and held for about half a minute",
    ),
)  # fmt: skip
AGENTS = {"adenosine": "adenosin", "regadenoson": "regadenoson", "papaverine": "papaverin",
          "nicorandil": "nicorandil", "atp": "triphosphat"}  # fmt: skip


def expected(
    sheet: Sheet,
    seen: Hyperaemia,
    injections: Sequence[tuple[str, float]],
    rest_s: tuple[float, float] | None,
    *,
    ffr_s: float | None = None,
    doses_s: Sequence[float] = (),
) -> tuple[Finding, ...]:
    """Return what the sheet lets expect, as notes, and what speaks against it, as cautions.

    Parameters
    ----------
    sheet : Sheet
        Agent, route and start of the drug; artery; caffeine; haemoglobin.
    seen : Hyperaemia
        As found.
    injections : sequence of (str, float)
        Label and time, s, of the injections in hyperaemia.
    rest_s : (float, float) or None
        Rest, s.
    ffr_s : float or None
        When FFR was read, s.
    doses_s : sequence of float
        When each dose into the artery was seen to begin, s.
    """
    read = [("FFR", ffr_s)] if ffr_s is not None else []
    return (
        *_course(sheet, seen, injections, read, doses_s), *_caffeine(sheet),
        *_anaemia(sheet, rest_s),
    )  # fmt: skip


def course_of(sheet: Sheet) -> Course | None:
    """Return what is known of the agent on the sheet by its route, or None."""
    agent, route = _agent(sheet), route_of(sheet)
    return next((c for c in COURSES if (c.agent, c.route) == (agent, route)), None)


def _course(
    sheet: Sheet, seen: Hyperaemia, injections: Sequence[tuple[str, float]],
    read: Sequence[tuple[str, float]], doses_s: Sequence[float],
) -> list[Finding]:  # fmt: skip
    course = course_of(sheet)
    if course is None or (seen.start_s is None and not injections):
        return []
    at, start = seen.start_s, sheet.hyperaemia.start_s
    told = f"{course.agent.capitalize()}, {course.route}: {course.words} ({course.source})."
    if at is not None and start is not None and at > start:
        told += f" Here steady {at - start:.0f} s after its start."
    rows = [_finding(
        "hyperaemia_expected", "note", at, seen.end_s, told,
        "Compare with the steadiness line; a different course is a reason to look again.",
    )]  # fmt: skip
    side = "right" if (sheet.vessel or "").strip().upper().startswith("RCA") else "left"
    starts = [*doses_s, *([] if start is None else [start])]
    if not starts or side not in course.holds_s:
        return rows
    mean, sd = course.holds_s[side]
    late = [(n, t) for n, t in injections if _since(t, starts) > mean + sd]
    read = [(n, t) for n, t in read if _since(t, starts) > mean + sd]
    said = [f"{', '.join(name for name, _ in late)}: given"] if late else []
    said += [f"{name} was read at {time:.0f} s," for name, time in read]
    if said:
        times = sorted(time for _, time in (*late, *read))
        leave = "; leave out the ones given after it" if late else ""
        mark = "; mark the steady stretch where FFR is to be read" if read else ""
        rows.append(_finding(
            "hyperaemia_outlasted", "caution", times[0], times[-1],
            f"{' and '.join(said)} more than {mean + sd:.0f} s after {course.route} "
            f"{course.agent}, whose plateau holds {mean:.0f} s (SD {sd:.0f}) {course.source}.",
            f"Check that hyperaemia still held{leave}{mark}.",
        ))  # fmt: skip
    return rows


def _since(time_s: float, starts_s: Sequence[float]) -> float:
    """Return the time since the last start before, s; negative where there is none."""
    return min((time_s - s for s in starts_s if s <= time_s), default=-1.0)


def _caffeine(sheet: Sheet) -> list[Finding]:
    agent, hours = _agent(sheet), sheet.caffeine_h
    if hours is None or hours >= CAFFEINE_H or agent not in BLUNTED:
        return []
    return [_finding(
        "caffeine_recent", "caution", None, None,
        f"Caffeine {hours:g} h before {agent}: it blunts the drug, and FFR reads too high by about "
        "0.01 for each mg/L in serum [Caffeine2021].",
        "Read FFR and flow reserve with this open; a value near its line may lie beyond it.",
    )]  # fmt: skip


def _anaemia(sheet: Sheet, rest_s: tuple[float, float] | None) -> list[Finding]:
    blood = sheet.haemoglobin_g_dl
    if blood is None or blood >= ANAEMIA_G_DL or rest_s is None:
        return []
    return [_finding(
        "resting_flow_raised", "note", *rest_s,
        f"Haemoglobin {blood:g} g/dL: anaemia raises resting flow, so flow reserve and the "
        f"baseline resistance index read low ({SOURCELESS}).",
        "Read a low flow reserve with this open.",
    )]  # fmt: skip


def _agent(sheet: Sheet) -> str | None:
    words = (sheet.hyperaemia.agent or "").lower()
    if words.strip() == "atp":
        return "atp"
    # adenosine triphosphate holds both stems
    found = [name for name, stem in AGENTS.items() if stem in words]
    return "atp" if "atp" in found else next(iter(found), None)


def route_of(sheet: Sheet) -> str | None:
    """Return the route on the sheet as one of two words, or None where it is neither."""
    words = (sheet.hyperaemia.route or "").strip().lower()
    if "coronar" in words or words in {"ic", "i.c."}:
        return "intracoronary"
    return "intravenous" if "venous" in words or words in {"iv", "i.v."} else None


def _finding(
    code: str, severity: Severity, start_s: float | None, end_s: float | None, message: str, do: str
) -> Finding:
    return Finding(
        code=code, severity=severity, channel=None, start_s=start_s, end_s=end_s,
        message=message, do=do,
    )  # fmt: skip
