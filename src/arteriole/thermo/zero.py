"""Time zero: when the injectate passed the catheter tip, and how well that is known.

From the shaft where there is one, else from the pressures, else from the curve's own arrival; a
marked time stands above all. What was not seen is left free for the curve's fit, with its SD.
"""

from dataclasses import dataclass, replace

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.curve import TimeZero
from arteriole.thermo.inlet import Injection
from arteriole.thermo.pressure_mark import LOST_SD_S, TYPICAL_INJECTION_S, PressureMark
from arteriole.thermo.push import Expected, Push, read_push
from arteriole.thermo.shaft import ShaftReading

#: Nothing but the curve: the middle of the injection lies within this of its arrival, s; 0050.
ARRIVAL_SD_S = 0.5
DURATION_LOG_SD = 0.3  # of a hand injection that was not seen; decision 0050
#: Where a push is looked for on Pd: this long before and after the cold's arrival, s;
#: decision 0055.
PUSH_BEFORE_S, PUSH_AFTER_S = 1.8, 2.2
#: Middle of an injection against half the rise of its curve, s: this much after it, less so many
#: rises from the arrival on; how widely it lies, and the longest such rise. Decision 0055.
MIDDLE_S, MIDDLE_PER_RISE, MIDDLE_SD_S, MOST_RISE_S = 0.14, 2.0, 0.2, 0.5
ARRIVAL_SLACK_S = 0.1  # an arrival is read this closely; decision 0055
#: A push placed better than this is taken as seen: the fit would not place it better; 0055.
SEEN_SD_S = 0.06
#: Beside a shaft a push is looked for within this of it, s, and counts where it is this sure and
#: this well placed; decision 0058.
BESIDE_BEFORE_S, BESIDE_AFTER_S, BESIDE_SD_S, BESIDE_LOG_LENGTH_SD = 0.9, 0.8, 0.05, 0.2
BESIDE_SEEN, BESIDE_CLEAR_S = 0.9, 0.02
LENGTH_SEEN = 0.15  # log SD of a duration that counts as measured
#: A spike's own middle, where Pd is asked too: a damped line delays it by more than usual; 0055.
SPIKE_LINE_SD_S, SPIKE_LOG_LENGTH_SD = 0.025, 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero:
    """Where time zero comes from, the injection, and the SD of its middle, s."""

    source: TimeZero
    sd_s: float
    injection: Injection
    length_seen: bool = True  # else its length is only what is usual
    push: Push | None = None


def arrival(t: Samples, smooth: Samples, peak_at: int) -> float:
    """Return when the distal drop last stood below a twentieth of its peak, s."""
    rising = np.flatnonzero(smooth[:peak_at] < 0.05 * smooth[peak_at])
    return float(t[rising[-1]]) if rising.size else float(t[0])


def push_near(
    pd_mmhg: Samples, rate_hz: float, *, start_s: float, mark: PressureMark | None,
    t: Samples, smooth: Samples, peak_at: int,
) -> Push | None:  # fmt: skip
    """Return the push that Pd shows, expected where curve and Pa tell, None where Pd is blind."""
    arrival_s = arrival(t, smooth, peak_at)
    low = np.flatnonzero(smooth[:peak_at] < 0.5 * smooth[peak_at])
    half_s = float(t[low[-1]]) if low.size else arrival_s
    rise_s = min(max(half_s - arrival_s, 0.0), MOST_RISE_S)
    middle_s, sd_s = half_s + MIDDLE_S - MIDDLE_PER_RISE * rise_s, MIDDLE_SD_S
    expected = Expected(middle_s=middle_s, middle_sd_s=sd_s, begun_by_s=arrival_s + ARRIVAL_SLACK_S)
    if mark is not None and mark.kind == "spike":
        expected = replace(
            expected, middle_s=mark.zero_s, middle_sd_s=SPIKE_LINE_SD_S,
            length_s=mark.end_s - mark.start_s, log_length_sd=SPIKE_LOG_LENGTH_SD,
        )  # fmt: skip
    elif mark is not None:
        weight = (sd_s / LOST_SD_S) ** 2
        expected = replace(
            expected, middle_s=(middle_s + weight * mark.zero_s) / (1.0 + weight),
            middle_sd_s=sd_s / float(np.sqrt(1.0 + weight)),
        )  # fmt: skip
    return read_push(
        pd_mmhg, rate_hz, start_s=start_s, from_s=arrival_s - PUSH_BEFORE_S,
        to_s=arrival_s + PUSH_AFTER_S, expected=expected,
    )  # fmt: skip


def push_beside(
    pd_mmhg: Samples, rate_hz: float, *, start_s: float, shaft: ShaftReading
) -> Push | None:
    """Return the push that Pd shows where the shaft has one; None where it is not clear."""
    push = read_push(
        pd_mmhg, rate_hz, start_s=start_s, from_s=shaft.start_s - BESIDE_BEFORE_S,
        to_s=shaft.end_s + BESIDE_AFTER_S,
        expected=Expected(
            middle_s=shaft.zero_s, middle_sd_s=BESIDE_SD_S, begun_by_s=shaft.zero_s,
            length_s=shaft.end_s - shaft.start_s, log_length_sd=BESIDE_LOG_LENGTH_SD,
        ),
    )  # fmt: skip
    if push is None or push.seen < BESIDE_SEEN or push.middle_sd_s > BESIDE_CLEAR_S:
        return None
    return push


def time_zero(
    shaft: ShaftReading | None, mark: PressureMark | None, push: Push | None,
    marked_s: float | None, t: Samples, smooth: Samples, peak_at: int,
) -> Zero:  # fmt: skip
    """Return the best-known time zero of one injection.

    ``t`` (n,) s and ``smooth`` (n,) °C: the distal drop, its peak at index ``peak_at``.
    """
    half = 0.5 * TYPICAL_INJECTION_S
    if marked_s is not None:
        half = 0.5 * (shaft.end_s - shaft.start_s) if shaft else half
        seen = Injection(pulses=((marked_s - half, marked_s + half, 1.0),))
        return Zero(source="marked", sd_s=0.0, injection=seen)
    if shaft is not None:
        return Zero(source="shaft", sd_s=shaft.zero_sd_s, injection=Injection(pulses=shaft.pulses))
    if mark is not None and mark.kind == "spike" and mark.zero_s < t[peak_at] + 0.5:
        moved_s = push.middle_s - mark.zero_s if push else 0.0
        seen = Injection(pulses=((mark.start_s + moved_s, mark.end_s + moved_s, 1.0),))
        sd_s = push.middle_sd_s if push else mark.zero_sd_s
        return Zero(source="pressure", sd_s=sd_s, injection=seen)
    if push is not None and push.middle_s < t[peak_at]:
        sd_s, half = push.middle_sd_s, 0.5 * push.duration_s
        free = sd_s > SEEN_SD_S
        seen = Injection(
            pulses=((push.middle_s - half, push.middle_s + half, 1.0),),
            zero_sd_s=sd_s if free else 0.0,
            log_duration_sd=push.log_duration_sd if free else 0.0,
        )
        return Zero(
            source="pressure" if mark is not None or not free else "arrival", sd_s=sd_s,
            injection=seen, length_seen=False, push=push,
        )  # fmt: skip
    if mark is not None and mark.zero_s < t[peak_at] + 0.5:
        seen = Injection(
            pulses=((mark.start_s, mark.end_s, 1.0),),
            zero_sd_s=mark.zero_sd_s, log_duration_sd=DURATION_LOG_SD,
        )  # fmt: skip
        return Zero(source="pressure", sd_s=mark.zero_sd_s, injection=seen, length_seen=False)
    at = arrival(t, smooth, peak_at)
    seen = Injection(
        pulses=((at - half, at + half, 1.0),), zero_sd_s=ARRIVAL_SD_S,
        log_duration_sd=DURATION_LOG_SD,
    )  # fmt: skip
    return Zero(source="arrival", sd_s=ARRIVAL_SD_S, injection=seen, length_seen=False)
