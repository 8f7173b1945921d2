"""What a finding means by where it lies: above all a step of Pd/Pa among the acts of a study.

The sensor is drawn to an infusion's outlet, a lesion is passed on the way in or out, the gauges are
set equal, Pd's gauge jumps; what is left is a wire that slipped (decisions 0046, 0093, 0094).
"""

from collections.abc import Collection, Sequence
from dataclasses import replace

from arteriole.episodes import Episode, Gauge
from arteriole.recording import Finding
from arteriole.study.gauges import Windows

#: The sensor is drawn to the outlet at the end of an infusion and put back soon after, s; 0046.
AROUND_INFUSION_S = 10.0
IN_PLACE = frozenset({"rest", "injection", "infusion"})
TELL_STEPS = frozenset({"zeroing", "equalisation", "pullback", "drift_check"})
SAME_STEP_S = 3.0  # two beats: a step of the ratio and one of the gauge are the same

Slips = Sequence[tuple[float, float]]  # of the wire: from when to when each happened, s


def in_context(
    findings: Sequence[Finding], episodes: Sequence[Episode], gauge: Gauge
) -> tuple[Finding, ...]:
    """Return the findings by what episodes and gauge explain.

    A step while the gauges are set, in the pullback or at a check at the guide tip is told there
    and left out here.
    """
    return tuple(
        placed(f, episodes, gauge)
        for f in findings
        if f.code != "ratio_step"
        or f.start_s is None
        or not _during(f.start_s, episodes, TELL_STEPS, SAME_STEP_S)
    )


def slips_of(findings: Sequence[Finding], gauge: Gauge) -> list[tuple[float, float]]:
    """Return from when to when the wire slipped, s: steps of Pd/Pa that nothing else explains."""
    return [
        (f.start_s, f.end_s)
        for f in findings
        if f.code == "ratio_step"
        and f.severity != "note"
        and f.start_s is not None
        and f.end_s is not None
        and not _is_the_gauge(f.start_s, gauge)
    ]


def placed(finding: Finding, episodes: Sequence[Episode], gauge: Gauge) -> Finding:
    """Return the finding, as a note where an episode or a gauge explains it.

    A step of Pd/Pa: the sensor was drawn to an infusion's outlet. Pd above Pa: the gauges read so
    at the guide tip too, which is said by itself. A step of the gauge stays a caution, and is told
    from one of the wire. A step near the end of a recording is the wire's way out only from the
    pullback on.
    """
    checks = (gauge.equalisation, gauge.drift)
    if finding.code == "pressures_swapped" and any(
        c.state == "off" and (c.offset_mmhg or 0.0) > 0.0 for c in checks
    ):
        return replace(finding, severity="note", do="See the gauge check first.")
    at = finding.start_s
    if finding.code != "ratio_step" or at is None:
        return finding
    if gauge.step is not None and _is_the_gauge(at, gauge):
        said = f"Pd jumps by {gauge.step.size_mmhg:+.1f} mmHg, as much as the gauges parted"
        return replace(
            finding,
            message=f"{finding.message} {said}: its gauge stepped, the wire did not slip.",
            do="Compare the values with drift removed, which take the step off from there on.",
        )
    if finding.severity == "note" and _wire_in_place(at, episodes):
        finding = replace(finding, severity="caution")
    drawn = _during(at, episodes, {"infusion"}, AROUND_INFUSION_S)
    if drawn:
        return replace(
            finding, severity="note",
            do="Nothing, if the sensor was drawn to the infusion's outlet and put back.",
        )  # fmt: skip
    if finding.severity == "note" and _wire_on_its_way(at, episodes):
        return replace(finding, do="Nothing, if the wire was on its way in or out.")
    return finding


def with_side(
    finding: Finding, moved_s: Slips, steady: Windows,
    place_s: tuple[float, float], *, drawn_back: bool,
) -> Finding:  # fmt: skip
    """Return a slip of the wire within hyperaemia with the side of it that is read.

    A pullback that follows starts from the new place.
    """
    at, end = finding.start_s, finding.end_s
    if finding.code != "ratio_step" or at is None or end is None or (at, end) not in moved_s:
        return finding
    if not steady or not steady[0][0] < at < steady[-1][1]:
        return finding
    side = "before" if place_s[1] <= at else "after"
    also = "; the pullback starts from the place after it" if drawn_back else ""
    return replace(finding, do=f"{finding.do} Hyperaemia is read {side} it{also}.")


def _during(
    at_s: float, episodes: Sequence[Episode], kinds: Collection[str], margin_s: float
) -> bool:  # fmt: skip
    """Return whether a time lies in an episode of these kinds or near one."""
    return any(
        e.kind in kinds and e.start_s - margin_s < at_s < e.end_s + margin_s for e in episodes
    )


def _wire_in_place(at_s: float, episodes: Sequence[Episode]) -> bool:
    """Return whether a time lies between the first act in the artery and a known pullback."""
    first, pullback = _first_start(episodes, IN_PLACE), _first_start(episodes, {"pullback"})
    if first is None or pullback is None:
        return False
    return first < at_s < pullback - SAME_STEP_S


def _wire_on_its_way(at_s: float, episodes: Sequence[Episode]) -> bool:
    """Return whether a time lies before the first act in the artery or from a pullback on."""
    first, pullback = _first_start(episodes, IN_PLACE), _first_start(episodes, {"pullback"})
    return (first is not None and at_s < first) or (pullback is not None and at_s > pullback)


def _first_start(episodes: Sequence[Episode], kinds: Collection[str]) -> float | None:
    return min((e.start_s for e in episodes if e.kind in kinds), default=None)


def _is_the_gauge(at_s: float, gauge: Gauge) -> bool:
    """Return whether a step of Pd/Pa is that of Pd's gauge."""
    step = gauge.step
    return step is not None and step.start_s - SAME_STEP_S < at_s < step.end_s + SAME_STEP_S
