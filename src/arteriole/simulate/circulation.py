"""Heart, arterial tree and coronary branch: one lumped circuit, solved step by step.

::

    P_la -|>- LV(t) -|>- root ==L,R== trunk ==L,R== limbs -R- veins
                          |
                       (wedge) ostium -- lumen loss, L -- Pd
                                                          |Ra1
                      collateral from root ------------ node a (Ca)
                                                          |Ra2
                                                        node m (Cm against Pim = squeeze*P_lv)
                                                          |Rv
                                                        veins

State and inputs are plain rows, so that a session can be solved in one piece or block by block
with the same samples.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

#: Columns of the input table, one row per sample.
IN_SVR, IN_ATRIAL, IN_VENOUS, IN_DILATION, IN_TONE, IN_LESION, IN_INJECT, IN_WEDGE = range(8)
INPUTS = 8
#: Columns of the output table.
(OUT_ROOT, OUT_OSTIUM, OUT_FLOW, OUT_DQDT, OUT_MICRO, OUT_VALVE, OUT_LV, OUT_RESISTANCE,
 OUT_MEANFLOW, OUT_NODE) = range(10)  # fmt: skip
OUTPUTS = 10
#: State: LV volume, valve flow, valve opening, three pressures and two flows of the tree,
#: coronary flow, node a, muscle volume, slow Pd, ln of autoregulated resistance, beat index.
(S_LV, S_QAV, S_OPEN, S_P1, S_Q12, S_P2, S_Q23, S_P3, S_Q, S_PA, S_VM, S_SLOW, S_LNR,
 S_BEAT) = range(14)  # fmt: skip
STATES = 14
#: Constants of one patient.
(P_EMAX, P_EMIN, P_V0, P_RMV, P_AREA, P_KVALVE, P_C1, P_C2, P_C3, P_L, P_R, P_RP, P_RWALL,
 P_VISC, P_TURB, P_INERT, P_SQUEEZE, P_CA, P_CM, P_VM0, P_POWER, P_RREF, P_RMIN, P_GAIN, P_TAU,
 P_RCOLL, P_RINJ, P_PREF, P_PART1, P_PART2, P_PART3) = range(31)  # fmt: skip
CONSTANTS = 31

SHAPE_POINTS = 1024  # elastance table
SHAPE_SPAN = 1.0  # s/sqrt(s), see elastance_shape
PARTS = (0.12, 0.53, 0.35)  # Ra1, Ra2, Rv of the microvascular resistance; decision 0021
ZERO_FLOW_MMHG = 15.0  # autoregulation looks at pressure above this; decision 0021
SLOW_PRESSURE_S = 2.5


def elastance_shape() -> Row:
    """Return the normalised double-Hill elastance over time divided by the root of RR.

    Shape ``(SHAPE_POINTS,)``. The duration of systole goes with the root of RR.

    Source
    ------
    [Stergiopulos1996] for the double-Hill form.
    """
    u = np.linspace(0.0, SHAPE_SPAN, SHAPE_POINTS)
    rise = (u / 0.22) ** 1.9
    fall = (u / 0.41) ** 19.0
    shape = rise / (1.0 + rise) / (1.0 + fall)
    return np.asarray(shape / shape.max(), dtype=np.float64)


def _elastance(t: float, onset: float, root_rr: float, shape: Row) -> float:
    u = (t - onset) / root_rr * (1023.0 / 1.0)
    if u < 0.0 or u >= 1023.0:
        return 0.0
    i = int(u)
    return float(shape[i] + (u - i) * (shape[i + 1] - shape[i]))


def _solve(
    state: Row, p: Row, shape: Row, onset: Row, root_rr: Row, strength: Row,
    table: Row, out: Row, first: int, dt: float, substeps: int, open_heart: bool,
) -> None:  # fmt: skip
    """Advance ``state`` in place over the rows of ``table``; write one row of ``out`` each.

    ``open_heart`` False takes the root pressure from column IN_ATRIAL and ventricular pressure
    from column IN_SVR instead of the heart (for referees and occlusion runs).
    """
    beats = onset.shape[0]
    ra1, ra2, rv = p[28], p[29], p[30]
    area0 = p[4]
    for k in range(table.shape[0]):
        svr, atrial, pv = table[k, 0], table[k, 1], table[k, 2]
        dilation, tone, lesion = table[k, 3], table[k, 4], table[k, 5]
        inject, wedge = table[k, 6], table[k, 7]
        volume = 0.0
        root = state[3]
        lv = 0.0
        q = state[8]
        dq = 0.0
        r = 1.0
        coll = (root - state[9]) / p[25]
        for j in range(substeps):
            t = ((first + k) * substeps + j + 1) * dt
            if open_heart:
                b = int(state[13])
                while b + 1 < beats and t >= onset[b + 1]:
                    b += 1
                state[13] = b
                e = _elastance_c(t, onset[b], root_rr[b], shape) * strength[b]
                if b > 0:
                    before = _elastance_c(t, onset[b - 1], root_rr[b - 1], shape) * strength[b - 1]
                    if before > e:
                        e = before
                lv = (p[1] + (p[0] - p[1]) * e) * (state[0] - p[2])
                mitral = (atrial - lv) / p[3]
                if mitral < 0.0:
                    mitral = 0.0
                # aortic valve: orifice with inertia and a leaflet that takes time, [Mynard2012]
                net = state[1] - state[4] - q - coll
                root = state[3] + p[12] * net
                gap = lv - root
                opening = state[2]
                if gap > 0.0:
                    opening += dt * (1.0 - opening) * p[5] * gap
                else:
                    opening += dt * opening * p[5] * gap
                opening = min(max(opening, 0.0), 1.0)
                if opening < 0.005 and gap > 0.0:
                    opening = 0.005
                state[2] = opening
                if opening <= 0.004:
                    state[1] = 0.0
                else:
                    area = area0 * opening
                    bernoulli = 1.06 / (2.0 * area * area) / 1333.22
                    inertia = 1.06 * 1.3 / area / 1333.22
                    x = (state[1] + dt / inertia * gap) / (
                        1.0 + dt / inertia * bernoulli * abs(state[1])
                    )
                    state[1] = x
                state[0] += dt * (mitral - state[1])
                net = state[1] - state[4] - q - coll
                state[3] += dt * net / p[6]
                root = state[3] + p[12] * net
                state[4] += dt / p[9] * (root - state[5] - p[10] * state[4])
                state[5] += dt * (state[4] - state[6]) / p[7]
                state[6] += dt / p[9] * (state[5] - state[7] - p[10] * state[6])
                state[7] += dt * (state[6] - (state[7] - pv) / (p[11] * svr)) / p[8]
            else:
                root = atrial
                lv = svr
            # microvascular resistance: autoregulated tone, then the drug, then squeeze
            aim = (state[11] - 15.0) / (p[27] - 15.0)
            if aim < 0.05:
                aim = 0.05
            target = np.log(p[21]) + p[23] * np.log(aim)
            floor = np.log(p[22])
            if target < floor:
                target = floor
            state[12] += dt / p[24] * (target - state[12])
            ln_auto = state[12] if state[12] > floor else floor
            r = np.exp((1.0 - dilation) * ln_auto + dilation * floor) * tone
            pim = p[16] * lv
            vm = state[10]
            if vm < 0.15 * p[19]:
                vm = 0.15 * p[19]
            squeezed = 1.0
            if p[20] > 0.0:
                squeezed = (p[19] / vm) ** p[20]
            rm = r * squeezed
            pm = pim + (state[10] - p[19]) / p[18]
            pa = state[9]
            # coronary inflow, implicit in Q: L dQ/dt + (R)Q + S Q|Q| = P - pa
            drive = root + p[26] * inject - pa
            linear = p[13] * lesion + wedge + ra1 * r + p[15] / dt
            source = drive + p[15] / dt * q
            s = p[14] * lesion
            mag = abs(source)
            if s > 1e-12:
                new = (-linear + np.sqrt(linear * linear + 4.0 * s * mag)) / (2.0 * s)
            else:
                new = mag / linear
            if source < 0.0:
                new = -new
            dq = (new - q) / dt
            q = new
            coll = (root - pa) / p[25]
            into = pa
            g = dt / p[17]
            pa = (into + g * (q + coll + pm / (ra2 * rm))) / (1.0 + g / (ra2 * rm))
            state[9] = pa
            inflow = (pa - pm) / (ra2 * rm)
            outflow = (pm - pv) / (rv * rm)
            state[10] += dt * (inflow - outflow)
            pd = root + p[26] * inject - (p[13] * lesion + wedge) * q - s * q * abs(q) - p[15] * dq
            state[11] += dt / 2.5 * (pd - state[11])
            volume += q
        state[8] = q
        out[k, 0] = root
        out[k, 1] = root + p[26] * inject - wedge * q
        out[k, 2] = q
        out[k, 3] = dq
        out[k, 4] = q + coll
        out[k, 5] = state[1]
        out[k, 6] = lv
        out[k, 7] = r
        out[k, 8] = volume / substeps
        out[k, 9] = pa


_elastance_c: Any = _elastance


@cache
def solver() -> Callable[..., None]:
    """Return the compiled solver; the first call compiles or loads it."""
    import numba

    globals()["_elastance_c"] = numba.njit(cache=True, inline="always")(_elastance)
    compiled: Callable[..., None] = numba.njit(cache=True, fastmath=False)(_solve)
    return compiled
