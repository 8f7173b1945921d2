"""Transit curves: bolus and continuous thermodilution, arrays in, readings out."""

from arteriole.thermo.bolus import read_bolus
from arteriole.thermo.continuous import ContinuousReading, Plateau, read_continuous
from arteriole.thermo.curve import BolusReading, TimeZero, TransitCurve

__all__ = [
    "BolusReading", "ContinuousReading", "Plateau", "TimeZero", "TransitCurve", "read_bolus",
    "read_continuous",
]  # fmt: skip
