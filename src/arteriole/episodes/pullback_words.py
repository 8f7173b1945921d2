"""The pullback in words: how much falls, where, how surely, and what would be left."""

from dataclasses import dataclass
from typing import Final

from arteriole.episodes.pullback_trace import PullbackCertainty, PullbackPattern, PullbackStep

#: Why evenness is not given, and what would show it; decision 0029.
NO_PACE_BY_HAND: Final = (
    "by hand a stop and a stretch that loses nothing look alike; a motor's speed, or the wire's "
    "place noted over time, would show it"
)
NO_PACE_BY_MOTOR: Final = (
    "the length or the beginning of the motion comes from the motor's speed itself; the length and "
    "a mark where the motion began would show it"
)
#: The pattern lies between two limits, an index beside one line.
SURELY: Final = {
    "clear of the line": "clear of both limits", "near the line": "near a limit",
    "cannot say": "how surely cannot be said",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the sentence is made of; ``limits``: diffuse up to, focal from."""

    drop: float
    steps: tuple[PullbackStep, ...]
    pattern: PullbackPattern
    certainty: PullbackCertainty
    place_known: bool
    state: str
    seen: bool
    index: float
    limits: tuple[float, float]
    evenness: float | None
    evenness95: tuple[float, float] | None
    evenness_reason: str


def sentence_of(told: Told) -> str:
    """Return the pullback in a few short sentences."""
    said = [_fall(told) + _pattern(told), _evenness(told)]
    if not told.seen:
        said.append("The beginning of the motion left no sure trace; mark it if it is known.")
    return " ".join((*said, *_left(told.steps)))


def step_name(number: int, step: PullbackStep, of: int) -> str:
    """Return a step's name with its place, so that two can be told apart."""
    name = "the step" if of == 1 else f"step {number}"
    if step.start_mm is None or step.end_mm is None:
        return f"{name} at {step.start_s:.0f} to {step.end_s:.0f} s"
    return f"{name} at {step.start_mm:.0f} to {step.end_mm:.0f} mm"


def _fall(told: Told) -> str:
    said = f"Pd/Pa falls by {told.drop:.2f} along the vessel"
    n = len(told.steps)
    if n:
        said += f", {sum(s.drop for s in told.steps):.2f} of it in {n} step{'s' if n > 1 else ''}"
    return said


def _pattern(told: Told) -> str:
    if not told.place_known:
        return "; the length was not recorded, so places are in seconds of an uneven hand."
    if told.pattern == "no clear drop":
        return "; no clear drop, so no pattern."
    diffuse, focal = told.limits
    certainty = SURELY[told.certainty]
    said = (
        f"; {told.pattern} pattern, {certainty}, if the withdrawal was even: index "
        f"{told.index:.2f}, diffuse up to {diffuse:.2f}, focal from {focal:.2f} (from memory, no "
        "source verified)."
    )
    if told.state == "rest":
        said += " These limits were made in hyperaemia; for rest none is verified."
    return said


def _evenness(told: Told) -> str:
    if told.evenness is None or told.evenness95 is None:
        return f"Evenness: cannot say; {told.evenness_reason}."
    low, high = told.evenness95
    said = (
        f"By motor; found and told duration agree to {100.0 * told.evenness:.0f} % "
        f"({100.0 * low:.0f} to {100.0 * high:.0f} %)"
    )
    if high < 1.0:
        said += ": length, speed or beginning is wrong, so places and pattern are not sure"
    return said + "."


def _left(steps: tuple[PullbackStep, ...]) -> list[str]:
    said = []
    for k, step in enumerate(steps, 1):
        if step.would_leave is None or step.would_leave95 is None:
            continue
        low, high = step.would_leave95
        said.append(
            f"Without {step_name(k, step, len(steps))} about {step.would_leave:.2f} would be left "
            f"({low:.2f} to {high:.2f})."
        )
    if said:
        said.append("That is simple addition; steps in a row hide each other's size.")
    return said
