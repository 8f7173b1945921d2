"""An electrocardiogram that goes with the beats: for timing, not for reading."""

import numpy as np
import numpy.typing as npt

from arteriole.simulate.rhythm import Beats

Row = npt.NDArray[np.float64]

#: (centre s after activation, width s, height mV) of P, Q, R, S, T; after [McSharry2003]
WAVES = ((-0.19, 0.022, 0.12), (-0.055, 0.008, -0.11), (-0.035, 0.010, 1.05),
         (-0.013, 0.009, -0.22), (0.24, 0.045, 0.28))  # fmt: skip
EXTRA = ((-0.02, 0.030, 1.25), (0.06, 0.030, -0.55), (0.27, 0.05, -0.32))
NOISE_MV = 0.012
REACH = 4.5  # widths


def ecg(beats: Beats, t_s: Row, rng: np.random.Generator) -> Row:
    """Return the trace, mV, shape of ``t_s``; no P wave before an extra beat."""
    row = NOISE_MV * rng.standard_normal(t_s.size)
    rate = 1.0 / (t_s[1] - t_s[0])
    for onset, root, extra in zip(beats.onset_s, beats.root_rr, beats.extra, strict=True):
        for centre, width, height in EXTRA if extra else WAVES:
            at = onset + (centre * root if centre > 0.1 else centre)
            a = max(int((at - REACH * width) * rate), 0)
            b = min(int((at + REACH * width) * rate) + 1, t_s.size)
            if b > a:
                row[a:b] += height * np.exp(-0.5 * ((t_s[a:b] - at) / width) ** 2)
    return row
