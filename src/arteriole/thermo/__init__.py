"""Transit curves: bolus and continuous thermodilution, arrays in, readings out."""

from arteriole.thermo.bolus import read_bolus
from arteriole.thermo.continuous import ContinuousReading, read_continuous
from arteriole.thermo.curve import BolusReading, TimeZero, TransitCurve
from arteriole.thermo.lag import lag_range_s
from arteriole.thermo.plateau import Plateau
from arteriole.thermo.pulse import Pulse
from arteriole.thermo.verdict import Graded, grade_injections

__all__ = [
    "BolusReading", "ContinuousReading", "Graded", "Plateau", "Pulse", "TimeZero",
    "TransitCurve", "grade_injections", "lag_range_s",
    "read_bolus", "read_continuous",
]  # fmt: skip
