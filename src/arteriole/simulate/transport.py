"""Cold through the guide and along the artery: advection and dispersion in volume.

The lumen from the catheter's tip to the first sensor site is a row of cells of equal volume.
Blood moves by volume, not by time; the wall takes heat and gives it back late. Both ends are
closed (nothing disperses across them), so the mean transit time is exactly volume over flow.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from arteriole.simulate.compiled import compiled

Row = npt.NDArray[np.float64]

CELLS = 22  # along the artery; decision 0022
GUIDE_CELLS = 3
COURANT = 0.4  # share of a cell that may leave it in one step; decision 0022
IN_GUIDE = 0.6  # share of the tip's cold that a sensor at the tip sees; decision 0022
JET_CELLS = 12  # the infusion's jets mix over these; decision 0022
#: Input columns: flow, injection, injectate depression, infusion heat (mL °C/s), sensor place
#: (1 first site, 0 guide tip, -1 infusion outlet), infusate depression.
IN_FLOW, IN_INJECT, IN_THETA, IN_HEAT, IN_PLACE, IN_INFUSATE = range(6)
INPUTS = 6
#: Output columns: sensor with lag, the same without a wall, sensor before lag, before lag
#: without wall, shaft, heat through the guide's tip, heat entering and leaving the artery.
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

    A fast flow gets finer steps, so that no cell gives away more than ``COURANT`` of itself in one.
    """
    n, g, s0 = CELLS, GUIDE_CELLS, SCALARS
    share = p[P_SHARE]
    for k in range(table.shape[0]):
        flow, inject, theta0 = table[k, IN_FLOW], table[k, IN_INJECT], table[k, IN_THETA]
        heat, place, infusate = table[k, IN_HEAT], table[k, IN_PLACE], table[k, IN_INFUSATE]
        entered, left, tip_heat = 0.0, 0.0, 0.0
        raw, raw_nowall = 0.0, 0.0
        smallest = p[P_VOLUME] / (1.0 - share + share * p[P_SLOWVOL]) / n
        given = abs(flow) * (1.0 + 2.0 * p[P_DISP] * n) * step / smallest
        finer = int(given / COURANT) + 1
        dt = step / finer
        for _ in range(substeps * finer):
            # guide
            back = theta0
            for i in range(g):
                now = state[i]
                state[i] += dt * (inject * g / p[P_GUIDE] * (back - now) - now / p[P_WARM])
                back = now
            tip = state[g - 1]
            mean_guide = 0.0
            for i in range(g):
                mean_guide += state[i] / g
            inlet = 0.0
            if inject > 0.0 and flow > 0.0:
                inlet = tip * inject / (inject + flow + p[P_MIX])
            tip_heat += tip * inject * dt
            # two paths, each with and without wall
            mixed, mixed_nowall = 0.0, 0.0
            for path in range(2):
                part = 1.0 - share if path == 0 else share
                if part <= 0.0:
                    continue
                vol = p[P_VOLUME] / (1.0 - share + share * p[P_SLOWVOL])
                if path == 1:
                    vol *= p[P_SLOWVOL]
                vol *= part  # volume goes with the share, so that both together hold p[P_VOLUME]
                q = flow * part
                cell = vol / n
                disp = p[P_DISP] * abs(q) * n
                for wall in range(2):
                    c0 = g + path * 2 * n if wall == 0 else g + (4 + path) * n
                    w0 = c0 + n
                    carry = 0.0
                    carry = q * inlet if q > 0.0 else q * state[c0]
                    if wall == 0:
                        entered += (carry + heat * part) * dt
                    for i in range(n):
                        now = state[c0 + i]
                        if i < JET_CELLS:
                            carry += heat * part / JET_CELLS
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
                            exchange = dt * p[P_WALL] * (now - w)
                            fresh -= exchange
                            lost = dt * p[P_LOSS] * w
                            state[w0 + i] = w + exchange / p[P_MASS] - lost
                            state[s0 + 5] += lost * p[P_MASS] * cell
                        state[c0 + i] = fresh
                        carry = leave
                    pos = place * n - 1.0
                    pos = max(pos, 0.0)
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
                mixed = IN_GUIDE * tip
                mixed_nowall = mixed
            raw, raw_nowall = mixed, mixed_nowall
            a = dt / p[P_LAG]
            state[s0] += a * (raw - state[s0])
            state[s0 + 1] += a * (raw_nowall - state[s0 + 1])
            state[s0 + 2] += dt / p[P_SHAFT] * (mean_guide - state[s0 + 2])
        state[s0 + 3] += entered
        state[s0 + 4] += left
        out[k, OUT_SENSOR] = state[s0]
        out[k, OUT_NOWALL] = state[s0 + 1]
        out[k, OUT_RAW] = raw
        out[k, OUT_RAW_NOWALL] = raw_nowall
        out[k, OUT_SHAFT] = state[s0 + 2]
        out[k, OUT_TIP] = tip_heat
        out[k, OUT_ENTER] = entered
        out[k, OUT_LEAVE] = left


def solver() -> Callable[..., None]:
    """Return the compiled solver; the first call compiles or loads it."""
    return compiled(_solve)


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
