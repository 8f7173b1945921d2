"""Transit curves: bolus and continuous thermodilution, arrays in, readings out."""

from arteriole.thermo.bolus import read_bolus
from arteriole.thermo.continuous import ContinuousReading, Plateau, read_continuous
from arteriole.thermo.curve import BolusReading, TimeZero, TransitCurve
from arteriole.thermo.verdict import Graded, grade_injections

__all__ = [
    "BolusReading", "ContinuousReading", "Graded", "Plateau", "TimeZero", "TransitCurve",
    "grade_injections", "read_bolus", "read_continuous",
]  # fmt: skip
