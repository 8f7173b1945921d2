"""What the episodes leave to be said: missing checks, unproven rest, unsteady hyperaemia."""

from collections.abc import Sequence

from arteriole.episodes.episode import Episode
from arteriole.episodes.gauge import Gauge, GaugeReading
from arteriole.episodes.gauge_check import RATIOS
from arteriole.episodes.hyperaemia import Hyperaemia
from arteriole.episodes.hyperaemia_doubt import UNSTEADY_RANGE
from arteriole.episodes.hyperaemia_line import OPEN_FURTHER
from arteriole.episodes.rest import RestDoubt
from arteriole.recording.finding import Finding
from arteriole.recording.settings import Settings


def findings_of(
    episodes: Sequence[Episode],
    rest: RestDoubt | None,
    gauge: Gauge,
    hyperaemia: Hyperaemia | None,
    pa_zero_mmhg: float | None,
    settings: Settings,
) -> tuple[Finding, ...]:
    """Return the cautions of this room, in the order of the procedure.

    Parameters
    ----------
    episodes : sequence of Episode
        Found or marked.
    rest : RestDoubt or None
        What speaks against the rest, found or marked; None where there is no rest.
    gauge : Gauge
        Both checks.
    hyperaemia : Hyperaemia or None
        None where hyperaemia was not looked for.
    pa_zero_mmhg : float or None
        What Pa read open to air; None where no zeroing was seen.
    settings : Settings
        ``drift_off_mmhg`` is the line for both checks and for the zero.
    """
    line = settings.drift_off_mmhg
    found = [
        *_zero(pa_zero_mmhg, episodes, line),
        *_check("equalisation", gauge.equalisation, line, _at_rest(gauge, settings)),
        *_rest(episodes, rest),
    ]
    if not any(e.kind in {"injection", "infusion"} for e in episodes):
        found.append(_caution(
            "no_injections", "temp", None,
            "No injection and no infusion was found; flow and resistance cannot be given.",
            "If some were made, mark their times.",
        ))  # fmt: skip
    if hyperaemia is not None:
        found += _hyperaemia(hyperaemia)
    return (*found, *_check("drift", gauge.drift, line, _since(gauge)))


def _caution(
    code: str, channel: str | None, at_s: tuple[float, float] | None, message: str, do: str
) -> Finding:
    start, end = at_s if at_s is not None else (None, None)
    return Finding(
        code=code, severity="caution", channel=channel, start_s=start, end_s=end,
        message=message, do=do,
    )  # fmt: skip


def _zero(zero_mmhg: float | None, episodes: Sequence[Episode], line: float) -> list[Finding]:
    if zero_mmhg is None or abs(zero_mmhg) <= line:
        return []
    last = max((e for e in episodes if e.kind == "zeroing"), key=lambda e: e.start_s, default=None)
    return [_caution(
        "pa_zero_off", "pa", (last.start_s, last.end_s) if last else None,
        f"Pa read {zero_mmhg:+.1f} mmHg while open to air (line: {line:.1f} mmHg).",
        "Zero Pa again at the level of the heart; every ratio of this run carries the error.",
    )]  # fmt: skip


def _at_rest(gauge: Gauge, settings: Settings) -> str:
    """Return what an equalisation that is off means for the ratios of rest; decision 0025."""
    first, last = gauge.equalisation.offset_mmhg, gauge.drift.offset_mmhg
    if first is None:
        return ""
    if gauge.step is not None:
        return (
            f" The gauge stepped at {gauge.step.time_s:.0f} s, so what it was at rest is known: "
            "beyond the line ratios of rest have it taken off."
        )
    if last is not None and abs(last - first) <= settings.drift_off_mmhg:
        return (
            " The check at the end agrees, so ratios of rest have the offset taken off; the value "
            "as read stands beside."
        )
    if abs(first) > settings.gauge_repeat_mmhg:
        return " No check at the end agrees, so ratios of rest are withheld."
    return " No check at the end agrees; ratios of rest stand as read, with a wider interval."


def _since(gauge: Gauge) -> str:
    """Return since when the gauges were apart, where a step tells; decision 0093."""
    if gauge.step is None:
        return ""
    return (
        f" It came at once, at {gauge.step.time_s:.0f} s ({gauge.step.size_mmhg:+.1f} mmHg): "
        "values with drift removed take it off from there on."
    )


def _check(which: str, reading: GaugeReading, line: float, rest: str) -> list[Finding]:
    if reading.offset_mmhg is None or reading.start_s is None or reading.end_s is None:
        place = "before the wire went in" if which == "equalisation" else "after the pullback"
        return [_caution(
            f"{which}_not_checked", "pd", None,
            f"No clean beats with both sensors at the guide tip {place}: {which} is not checked.",
            "Mark the stretch if there is one; else read every ratio with this open.",
        )]  # fmt: skip
    if reading.state != "off":
        return []
    beyond = f"line: {line:.1f} mmHg"
    low, high = RATIOS
    if abs(reading.offset_mmhg) <= line and reading.ratio is not None:
        beyond = f"Pd/Pa {reading.ratio:.3f}, line: {low:g} to {high:g}"
    again = "Set the gauges equal" if which == "equalisation" else "Equalise and measure"
    if which == "drift" and not rest:
        again = f"See that the sensor reached the guide tip. {again}"
    return [_caution(
        f"{which}_off", "pd", (reading.start_s, reading.end_s),
        f"Pd minus Pa was {reading.offset_mmhg:+.1f} mmHg at the guide tip, "
        f"{reading.start_s:.1f} to {reading.end_s:.1f} s ({beyond}).{rest}",
        f"{again} again if the wire is still in reach; else compare the corrected values.",
    )]  # fmt: skip


#: Fault of a rest: the finding's code and what to do.
OF_REST = {
    "early": (
        "rest_too_early",
        "Wait half a minute after the last flush and record rest again, or mark a later rest.",
    ),
    "nitrate": (
        "rest_after_nitrate",
        "Record rest again a minute or longer after nitrate, or mark a later rest.",
    ),
    "moving": (
        "rest_moving", "Record rest again once Pd/Pa stands still, or mark a steadier rest.",
    ),
}  # fmt: skip
LEFT_OPEN = " Resting ratios keep their value; their interval is wider and no side is clear."


def _rest(episodes: Sequence[Episode], doubt: RestDoubt | None) -> list[Finding]:
    rest = next((e for e in episodes if e.kind == "rest"), None)
    if rest is None:
        return [_caution(
            "no_rest", None, None, "No stretch of rest was found; resting values are unproven.",
            "Mark the rest, or record half a minute without contrast, saline or drug.",
        )]  # fmt: skip
    said: list[Finding] = []
    for fault in () if doubt is None else doubt.faults:
        assert doubt is not None
        code, do = OF_REST[fault]
        said.append(_caution(
            code, None, (rest.start_s, rest.end_s),
            f"Rest at {rest.start_s:.1f} s {doubt.words[fault]}.{'' if said else LEFT_OPEN}", do,
        ))  # fmt: skip
    return said


def _hyperaemia(seen: Hyperaemia) -> list[Finding]:
    said: list[Finding] = []
    line = seen.states
    at = (line[0].start_s, line[-1].end_s) if line else None
    if seen.submaximal:
        opened = next((s.value for s in seen.signs if s.name == OPEN_FURTHER), None)
        share = ""
        if opened and opened > 0.05:
            part = "more than half" if opened > 0.5 else f"{100.0 * opened:.0f} %"
            share = f" by {part} of the effect"
        said.append(_caution(
            "hyperaemia_submaximal", None, at,
            f"Hyperaemia was not full: injections of saline still opened vessels{share}.",
            "Check the line and caffeine; flow reserve is at least, resistance at most, as read.",
        ))  # fmt: skip
    elif seen.start_s is None or seen.state == "not reached":
        return [_caution(
            "hyperaemia_not_reached", None, at, "No steady hyperaemia was found.",
            "Check that the line is open and the drug arrived; mark the plateau if there was one.",
        )]  # fmt: skip
    faded = next((s for s in line if s.state == "fading"), None)
    swings = seen.range_ratio is not None and seen.range_ratio > UNSTEADY_RANGE
    if seen.unsteady or swings or faded is not None:
        waves = None if seen.wave_s is None else f"in waves of about {seen.wave_s:.0f} s"
        if faded is not None:
            why = f"it fades from {faded.start_s:.1f} s on"
        elif swings:
            swing = f"Pd/Pa swings by {seen.range_ratio:.2f} on the plateau"
            why = swing if waves is None else f"{swing}, {waves}"
        elif waves is not None:
            why = f"its effect comes and goes {waves}"
        else:
            why = "its effect comes slowly or sways on the plateau"
        said.append(_caution(
            "hyperaemia_unsteady", None, at, f"Hyperaemia is not steady: {why}.",
            "Check the line; take hyperaemic values from the steady part only.",
        ))  # fmt: skip
    return said
