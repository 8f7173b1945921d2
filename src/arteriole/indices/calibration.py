"""Published lines from one quantity to another: what the other method would have read."""

from typing import Final

LATE_SLOPE, LATE_START = 1.31, -0.31  # late-diastolic ratio on resting Pd/Pa [CONTRAST2017]
PROBE_SLOPE, PROBE_START_ML_MIN = 0.73, 42.0  # read on true flow, dogs, R2 0.72 [Aarnoudse2007]

EXPECTED: Final = "expected from resting Pd/Pa"
BY_PROBE: Final = "by a flow probe, as the regression in dogs has it"


def late_diastolic_from_pd_pa(pd_pa: float) -> float:
    """Return the late-diastolic ratio that resting Pd/Pa lets expect [CONTRAST2017]."""
    return LATE_SLOPE * pd_pa + LATE_START


def thermodilution_of_flow(flow_ml_min: float) -> float:
    """Return what continuous thermodilution read at a flow by probe, mL/min [Aarnoudse2007]."""
    return PROBE_SLOPE * flow_ml_min + PROBE_START_ML_MIN


def flow_of_thermodilution(read_ml_min: float) -> float:
    """Return the flow by probe that belongs to a reading, mL/min [Aarnoudse2007].

    The line was drawn in dogs and levels off high flows; a bench with human calibres found no such
    slope [vantVeer2016]. It is a sensitivity, never a correction.
    """
    return (read_ml_min - PROBE_START_ML_MIN) / PROBE_SLOPE
