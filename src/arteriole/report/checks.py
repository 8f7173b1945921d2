"""Section: gauge check, hyperaemia and the quality summary."""

from collections.abc import Sequence
from dataclasses import replace

from arteriole.episodes.gauge import GaugeReading, GaugeStep
from arteriole.episodes.hyperaemia import Sign
from arteriole.recording.finding import Finding
from arteriole.report.tree import KEEP_FINDING, Block, Facts, Section, Table
from arteriole.report.words import number, seconds
from arteriole.study.result import Result

SEVERITY = {"stop": 0, "caution": 1, "note": 2}
GATHERED = "Findings; those of one kind are gathered, each stands in the result document"
TIMES_SHOWN = 6  # of findings gathered in one row


def section(result: Result) -> Section:
    """Return gauge, hyperaemia with its signs, and the findings by weight."""
    h = result.hyperaemia
    state = h.state + (", signs speak against full hyperaemia" if h.submaximal else "")
    parts = sum(s.state == "steady" for s in h.states)
    steady = f"from {seconds(h.start_s, h.end_s)}" if h.start_s is not None else "never steady"
    if parts > 1:
        steady = f"in {parts} stretches between {seconds(h.start_s, h.end_s)}"
    counted = {k: sum(f.severity == k for f in result.findings) for k in SEVERITY}
    rows = [
        ("Equalisation", gauge(result.gauge.equalisation)),
        ("Drift check", gauge(result.gauge.drift)),
        *(() if result.gauge.step is None else (("Gauge step", stepped(result.gauge.step)),)),
        ("Drift correction", corrected(result)),
        *(("Had drift come otherwise", said) for said in courses(result)),
        ("Hyperaemia", f"{state}, {steady}"),
        ("Signs", "; ".join(sign(s) for s in h.signs) or "none assessed"),
        ("Quality", ", ".join(f"{n} {k}" for k, n in counted.items())),
        ("Missing", "; ".join(f"{c.name} {100 * c.missing_fraction:.1f} %"
                              for c in result.recording.channels) or "no channel"),
    ]  # fmt: skip
    blocks: list[Block] = [Facts(rows=tuple(rows))]
    worst = sorted(
        (f for f in result.findings if f.severity != "note"), key=lambda f: SEVERITY[f.severity]
    )
    if worst:
        alike = replace(findings(gathered(worst)), caption=GATHERED)
        fewer = (alike,) if len(alike.rows) < len(worst) else ()
        blocks.append(replace(findings(worst), shorter=fewer))
    return Section(key="checks", heading="Gauge, hyperaemia, quality", blocks=tuple(blocks))


def findings(rows: Sequence[Finding]) -> Table:
    """Return findings as a table: weight, where, what, what to do."""
    cells = tuple(
        (f.severity, f"{f.channel or 'recording'}, {seconds(f.start_s, f.end_s)}", f.message, f.do)
        for f in rows
    )
    head = ("Weight", "Where", "Finding", "What to do")
    return Table(caption="Findings", head=head, rows=cells,
                 widths=(0.07, 0.17, 0.41, 0.35), keep=KEEP_FINDING, running=1)  # fmt: skip


def gathered(rows: Sequence[Finding]) -> list[Finding]:
    """Return findings of one kind, weight and channel as one, which names the times of all."""
    kinds: dict[tuple[str, str, str | None], list[Finding]] = {}
    for f in rows:
        kinds.setdefault((f.code, f.severity, f.channel), []).append(f)
    made = []
    for alike in kinds.values():
        first, *rest = alike
        if rest:
            times = ", ".join(seconds(f.start_s, f.end_s) for f in rest[:TIMES_SHOWN])
            more = f" and {len(rest) - TIMES_SHOWN} more" if len(rest) > TIMES_SHOWN else ""
            words = f"{first.message} Also at {times}{more}."
            first = replace(first, message=words)
        made.append(first)
    return made


def gauge(reading: GaugeReading) -> str:
    """Return one gauge reading in words; offsets are Pd minus Pa."""
    if reading.offset_mmhg is None:
        return reading.state
    offset = f"Pd − Pa {number(reading.offset_mmhg, 1, 'mmHg')}"
    parts = [f"{reading.state}: {offset}{_ends(reading.offset_interval95_mmhg, 1)}"]
    if reading.ratio is not None:
        parts.append(f"ratio {number(reading.ratio, 3)}")
    if reading.gain is not None:
        parts.append(f"gain {number(reading.gain)}{_ends(reading.gain_interval95)}")
    if reading.lag_s is not None:
        ends = reading.lag_interval95_s and tuple(1000.0 * x for x in reading.lag_interval95_s)
        parts.append(f"lag {number(1000.0 * reading.lag_s, 0, 'ms')}{_ends(ends, 0)}")
    if reading.beats:
        parts.append(f"{reading.beats} beats at {seconds(reading.start_s, reading.end_s)}")
    return ", ".join(parts)


def _ends(interval: tuple[float, ...] | None, decimals: int = 2) -> str:
    if interval is None:
        return ""
    low, high = (number(x, decimals) for x in interval)
    return f" ({low} to {high})"


def stepped(step: GaugeStep) -> str:
    """Return when Pd's gauge moved at once, and by how much."""
    size = f"{step.size_mmhg:+.1f}".replace("-", "−")
    when = seconds(step.start_s, step.end_s)
    return f"Pd moved by {size} mmHg at {when}, as much as the gauges parted"


def corrected(result: Result) -> str:
    """Return which indices are given with drift or the offset at equalisation taken off."""
    given = [i for i in result.indices if i.value is not None]
    drift = [i.label for i in given if any("drift" in c for c in i.corrected_for)]
    start = [i.label for i in given if any("equalisation" in c for c in i.corrected_for)]
    if not drift and not start:
        return "not applied"
    check = result.gauge.equalisation.offset_mmhg is None
    alone = ", by the check alone, for equalisation is not known" if check else ""
    said = f"applied to: {'; '.join(drift)}{alone}. " if drift else "not applied. "
    if start:
        said += f"Offset at equalisation taken off: {'; '.join(start)}. "
    return f"{said}All others as read"


def courses(result: Result) -> tuple[str, ...]:
    """Return what FFR would be had the drift taken another course; nothing without a drift."""
    if result.gauge.drift.state != "off":
        return ()
    told = []
    for one in result.indices:
        if one.key != "ffr_drift_corrected" or one.value is None:
            continue
        rows = {k: v for k, v in one.alternatives.items() if k.startswith("drift ")}
        words = "; ".join(f"{k} {number(v, one.decimals)}" for k, v in rows.items())
        if words:
            told.append(f"{one.label} {number(one.value, one.decimals)}: {words}")
    return tuple(told)


def sign(one: Sign) -> str:
    """Return one sign of hyperaemia in words."""
    there = {True: "present", False: "absent", None: "not measurable"}[one.present]
    if one.value is None:
        return f"{one.name}: {there}"
    shown = f"{one.value:.2g}".replace("-", "−") + ("" if one.unit == "1" else f" {one.unit}")
    return f"{one.name}: {there} ({shown.strip()})"
