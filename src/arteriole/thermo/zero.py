"""Time zero: when the injectate passed the catheter tip, and how well that is known.

From the shaft where there is one, else from the pressures, else from the curve's own arrival; a
marked time stands above all. What was not seen is left free for the curve's fit, with its SD.
"""

from dataclasses import dataclass

import numpy as np

from arteriole.recording.channel import Samples
from arteriole.thermo.curve import TimeZero
from arteriole.thermo.inlet import Injection
from arteriole.thermo.pressure_mark import TYPICAL_INJECTION_S, PressureMark
from arteriole.thermo.shaft import ShaftReading

#: Nothing but the curve: the middle of the injection lies within this of its arrival, s; 0050.
ARRIVAL_SD_S = 0.5
DURATION_LOG_SD = 0.3  # of a hand injection that was not seen; decision 0050


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero:
    """Where time zero comes from, the injection, and the SD of its middle, s."""

    source: TimeZero
    sd_s: float
    injection: Injection


def time_zero(
    shaft: ShaftReading | None, mark: PressureMark | None, marked_s: float | None, t: Samples,
    smooth: Samples, peak: float, peak_at: int,
) -> Zero:  # fmt: skip
    """Return the best-known time zero of one injection.

    ``t`` (n,) s and ``smooth`` (n,) °C: the distal drop, ``peak`` at index ``peak_at``.
    """
    half = 0.5 * TYPICAL_INJECTION_S
    if marked_s is not None:
        half = 0.5 * (shaft.end_s - shaft.start_s) if shaft else half
        seen = Injection(pulses=((marked_s - half, marked_s + half, 1.0),))
        return Zero(source="marked", sd_s=0.0, injection=seen)
    if shaft is not None:
        return Zero(source="shaft", sd_s=shaft.zero_sd_s, injection=Injection(pulses=shaft.pulses))
    if mark is not None and mark.zero_s < t[peak_at] + 0.5:
        seen = Injection(
            pulses=((mark.start_s, mark.end_s, 1.0),),
            zero_sd_s=mark.zero_sd_s if mark.kind == "lost" else 0.0,
            log_duration_sd=DURATION_LOG_SD if mark.kind == "lost" else 0.0,
        )
        return Zero(source="pressure", sd_s=mark.zero_sd_s, injection=seen)
    rising = np.flatnonzero(smooth[:peak_at] < 0.05 * peak)
    arrival = float(t[rising[-1]]) if rising.size else float(t[0])
    seen = Injection(
        pulses=((arrival - half, arrival + half, 1.0),),
        zero_sd_s=ARRIVAL_SD_S,
        log_duration_sd=DURATION_LOG_SD,
    )
    return Zero(source="arrival", sd_s=ARRIVAL_SD_S, injection=seen)
