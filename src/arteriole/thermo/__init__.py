"""Transit curves: bolus and continuous thermodilution, arrays in, readings out."""

from arteriole.thermo.bolus import read_bolus
from arteriole.thermo.curve import BolusReading, TimeZero, TransitCurve

__all__ = ["BolusReading", "TimeZero", "TransitCurve", "read_bolus"]
