"""The sensor's own lag: what it does to a transit time, and what taking it out does.

A first-order lag delays the centroid by its time constant whatever the curve's shape, because
means add along a chain of convolutions [Meier1954]. A lag of 0.15 s turns 1.00 s and 0.25 s
(ratio 4.0) into 1.15 s and 0.40 s (ratio 2.9).
"""

#: Where the lag is not on the sheet: what wires of this kind show, s; from memory, no source.
LOWEST_LAG_S, HIGHEST_LAG_S = 0.05, 0.25
#: How well a lag on the sheet is known, share: it is the own lag of that sensor, stated to 0.01 s;
#: decision 0057.
SHEET_LAG_SHARE = 0.07
SMALLEST_LEFT = 0.2  # of the read value; less would be a guess; decision 0052


def lag_range_s(sensor_lag_s: float | None) -> tuple[float, float]:
    """Return the lowest and highest lag to reckon with, s: around the sheet's, or of any wire."""
    if sensor_lag_s is None:
        return LOWEST_LAG_S, HIGHEST_LAG_S
    half = 1.96 * SHEET_LAG_SHARE * sensor_lag_s
    return max(sensor_lag_s - half, 0.0), sensor_lag_s + half
