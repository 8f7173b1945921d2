"""How alike the injections of a state are: spread, the one farthest from the median, the rule."""

from collections.abc import Sequence
from statistics import median
from typing import Literal

from arteriole.recording import Settings
from arteriole.study.result import Injection, Likeness

ENTERS = frozenset({"usable", "look again"})


def likeness_of(row: Sequence[Injection], settings: Settings) -> tuple[Likeness, ...]:
    """Return one line for each state in which injections were read."""
    lines = []
    phases: tuple[Literal["rest", "hyperaemia"], ...] = ("rest", "hyperaemia")
    for phase in phases:
        times = {i.label: i.tmn_s for i in row if i.phase == phase and i.tmn_s is not None}
        used = [
            i.tmn_s for i in row if i.phase == phase and i.tmn_s is not None and i.verdict in ENTERS
        ]
        if not times:
            continue
        middle = median(used) if used else None
        several = middle is not None and len(used) > 1
        apart = {k: 100.0 * (t / middle - 1.0) for k, t in times.items()} if middle else {}
        far = max(apart, key=lambda k: abs(apart[k])) if several else None
        lines.append(
            Likeness(
                phase=phase, read=len(times), used=len(used), median_s=middle,
                range_percent=(
                    100.0 * (max(used) - min(used)) / middle if middle and several else None
                ),
                farthest=far, farthest_percent=None if far is None else apart[far],
                rule=rule_of(settings),
            )
        )  # fmt: skip
    return tuple(lines)


def rule_of(settings: Settings) -> str:
    """Return the rule of likeness as it is printed."""
    near, far = 100.0 * settings.alike_fraction, 100.0 * settings.repeat_fraction
    return (
        f"alike within {near:g} % of the median of its state, look again up to {far:g} %, "
        "repeat beyond; an injection left out still widens the interval"
    )
