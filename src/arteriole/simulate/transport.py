"""Cold through the guide and along the artery: advection and dispersion in volume.

The lumen from the catheter's tip to the first sensor site is a row of cells of equal volume.
Blood moves by volume, not by time; the wall takes heat and gives it back late. Both ends are
closed (nothing disperses across them), so the mean transit time is exactly volume over flow.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

CELLS = 22  # along the artery; decision 0022
GUIDE_CELLS = 3
JET_CELLS = 12  # the infusion's jets mix over these; decision 0022
#: Input columns: flow, injection, injectate depression, infusion heat (mL °C/s), sensor place
#: (1 first site, 0 guide tip, -1 infusion outlet), infusate depression.
IN_FLOW, IN_INJECT, IN_THETA, IN_HEAT, IN_PLACE, IN_INFUSATE = range(6)
INPUTS = 6
#: Output columns: sensor with lag, the same without a wall, sensor before lag, before lag
#: without wall, shaft, tip depression times injection, heat entering, heat leaving, without wall.
OUT_SENSOR, OUT_NOWALL, OUT_RAW, OUT_RAW_NOWALL, OUT_SHAFT, OUT_TIP, OUT_ENTER, OUT_LEAVE = range(8)
OUTPUTS = 8
#: State row: guide, fast path, fast wall, slow path, slow wall, the two lumens without a wall,
#: then sensor, sensor without wall, shaft, heat in, heat out, heat lost to the muscle.
SCALARS = GUIDE_CELLS + 6 * CELLS
STATES = SCALARS + 6
(P_VOLUME, P_SHARE, P_SLOWVOL, P_DISP, P_WALL, P_MASS, P_LOSS, P_GUIDE, P_WARM, P_MIX, P_LAG,
 P_SHAFT) = range(12)  # fmt: skip
CONSTANTS = 12


def _solve(state: Row, p: Row, table: Row, out: Row, step: float, substeps: int) -> None:
    """Advance ``state`` in place over the rows of ``table``; write one row of ``out`` each.

    A fast flow gets finer steps, so that no cell gives away more than ``0.4`` of itself in one.
    """
    n, g, jet = 22, 3, 12
    s0 = g + 6 * n
    share = p[1]
    for k in range(table.shape[0]):
        flow, inject, theta0 = table[k, 0], table[k, 1], table[k, 2]
        heat, place, infusate = table[k, 3], table[k, 4], table[k, 5]
        entered, left, tip_heat = 0.0, 0.0, 0.0
        raw, raw_nowall = 0.0, 0.0
        smallest = p[0] / (1.0 - share + share * p[2]) / n
        given = abs(flow) * (1.0 + 2.0 * p[3] * n) * step / smallest
        finer = int(given / 0.4) + 1
        dt = step / finer
        for _ in range(substeps * finer):
            # guide
            back = theta0
            for i in range(g):
                now = state[i]
                state[i] += dt * (inject * g / p[7] * (back - now) - now / p[8])
                back = now
            tip = state[g - 1]
            mean_guide = 0.0
            for i in range(g):
                mean_guide += state[i] / g
            inlet = 0.0
            if inject > 0.0 and flow > 0.0:
                inlet = tip * inject / (inject + flow + p[9])
            tip_heat += tip * inject * dt
            # two paths, each with and without wall
            mixed, mixed_nowall = 0.0, 0.0
            for path in range(2):
                part = 1.0 - share if path == 0 else share
                if part <= 0.0:
                    continue
                vol = p[0] / (1.0 - share + share * p[2])
                if path == 1:
                    vol *= p[2]
                vol *= part  # volume goes with the share, so that both together hold p[0]
                q = flow * part
                cell = vol / n
                disp = p[3] * abs(q) * n
                for wall in range(2):
                    c0 = g + path * 2 * n if wall == 0 else g + (4 + path) * n
                    w0 = c0 + n
                    carry = 0.0
                    carry = q * inlet if q > 0.0 else q * state[c0]
                    if wall == 0:
                        entered += (carry + heat * part) * dt
                    for i in range(n):
                        now = state[c0 + i]
                        if i < jet:
                            carry += heat * part / jet
                        if i + 1 < n:
                            nxt = state[c0 + i + 1]
                            leave = (q * now if q > 0.0 else q * nxt) + disp * (now - nxt)
                        else:
                            leave = q * now if q > 0.0 else 0.0
                            if wall == 0:
                                left += leave * dt
                        fresh = now + dt / cell * (carry - leave)
                        if wall == 0:
                            w = state[w0 + i]
                            exchange = dt * p[4] * (now - w)
                            fresh -= exchange
                            lost = dt * p[6] * w
                            state[w0 + i] = w + exchange / p[5] - lost
                            state[s0 + 5] += lost * p[5] * cell
                        state[c0 + i] = fresh
                        carry = leave
                    pos = place * n - 1.0
                    if pos < 0.0:
                        pos = 0.0
                    i = int(pos)
                    value = state[c0 + i]
                    if i + 1 < n:
                        value += (pos - i) * (state[c0 + i + 1] - value)
                    if wall == 0:
                        mixed += part * value
                    else:
                        mixed_nowall += part * value
            if place <= -0.5:
                mixed = infusate
                mixed_nowall = infusate
            elif place <= 0.0:
                mixed = 0.6 * tip
                mixed_nowall = mixed
            raw, raw_nowall = mixed, mixed_nowall
            a = dt / p[10]
            state[s0] += a * (raw - state[s0])
            state[s0 + 1] += a * (raw_nowall - state[s0 + 1])
            state[s0 + 2] += dt / p[11] * (mean_guide - state[s0 + 2])
        state[s0 + 3] += entered
        state[s0 + 4] += left
        out[k, 0] = state[s0]
        out[k, 1] = state[s0 + 1]
        out[k, 2] = raw
        out[k, 3] = raw_nowall
        out[k, 4] = state[s0 + 2]
        out[k, 5] = tip_heat
        out[k, 6] = entered
        out[k, 7] = left


@cache
def solver() -> Callable[..., None]:
    """Return the compiled solver; the first call compiles or loads it."""
    import numba

    compiled: Callable[..., None] = numba.njit(cache=True)(_solve)
    return compiled


def heat_held(state: Row, constants: Row) -> float:
    """Return the heat in lumen and wall (paths with wall), mL °C."""
    total = 0.0
    share = constants[P_SHARE]
    for path in range(2):
        part = 1.0 - share if path == 0 else share
        vol = constants[P_VOLUME] / (1.0 - share + share * constants[P_SLOWVOL]) * part
        vol *= constants[P_SLOWVOL] if path else 1.0
        c0 = GUIDE_CELLS + path * 2 * CELLS
        lumen = state[c0 : c0 + CELLS].sum()
        wall = state[c0 + CELLS : c0 + 2 * CELLS].sum() * constants[P_MASS]
        total += (lumen + wall) * vol / CELLS
    return float(total)
