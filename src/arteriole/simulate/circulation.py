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
from typing import Any

import numpy as np
import numpy.typing as npt

from arteriole.simulate.compiled import compiled

Row = npt.NDArray[np.float64]

#: Columns of the input table, one row per sample.
IN_SVR, IN_ATRIAL, IN_VENOUS, IN_DILATION, IN_TONE, IN_LESION, IN_INJECT, IN_WEDGE = range(8)
INPUTS = 8
#: Columns of the output table; MICRO, MEANFLOW and DRAIN are means over the sample.
(OUT_ROOT, OUT_OSTIUM, OUT_FLOW, OUT_DQDT, OUT_MICRO, OUT_VALVE, OUT_LV, OUT_RESISTANCE,
 OUT_MEANFLOW, OUT_NODE, OUT_DRAIN) = range(11)  # fmt: skip
OUTPUTS = 11
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
LAST = (SHAPE_POINTS - 1) / SHAPE_SPAN
PARTS = (0.12, 0.53, 0.35)  # Ra1, Ra2, Rv of the microvascular resistance; decision 0021
ZERO_FLOW_MMHG = 15.0  # autoregulation looks at pressure above this; decision 0021
SLOW_PRESSURE_S = 2.5  # memory of what autoregulation sees
LEAST_AIM = 0.05  # keeps the logarithm of autoregulation in range
LEAST_VOLUME = 0.15  # of the muscle's vessels under full squeeze
BLOOD_G_ML, DYN_PER_MMHG = 1.06, 1333.22
VALVE_LENGTH_CM = 1.3  # [Mynard2012]
SHUT = 0.005  # of full opening; below it the valve is closed


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
    u = (t - onset) / root_rr * LAST
    if u < 0.0 or u >= LAST:
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
    ra1, ra2, rv = p[P_PART1], p[P_PART2], p[P_PART3]
    area0 = p[P_AREA]
    for k in range(table.shape[0]):
        svr, atrial, pv = table[k, IN_SVR], table[k, IN_ATRIAL], table[k, IN_VENOUS]
        dilation, tone, lesion = table[k, IN_DILATION], table[k, IN_TONE], table[k, IN_LESION]
        inject, wedge = table[k, IN_INJECT], table[k, IN_WEDGE]
        volume, micro, drained = 0.0, 0.0, 0.0
        root = state[S_P1]
        lv = 0.0
        q = state[S_Q]
        dq = 0.0
        r = 1.0
        coll = (root - state[S_PA]) / p[P_RCOLL]
        for j in range(substeps):
            t = ((first + k) * substeps + j + 1) * dt
            if open_heart:
                b = int(state[S_BEAT])
                while b + 1 < beats and t >= onset[b + 1]:
                    b += 1
                state[S_BEAT] = b
                e = _elastance_c(t, onset[b], root_rr[b], shape) * strength[b]
                if b > 0:
                    before = _elastance_c(t, onset[b - 1], root_rr[b - 1], shape) * strength[b - 1]
                    e = max(e, before)
                lv = (p[P_EMIN] + (p[P_EMAX] - p[P_EMIN]) * e) * (state[S_LV] - p[P_V0])
                mitral = (atrial - lv) / p[P_RMV]
                mitral = max(mitral, 0.0)
                # aortic valve: orifice with inertia and a leaflet that takes time, [Mynard2012]
                net = state[S_QAV] - state[S_Q12] - q - coll
                root = state[S_P1] + p[P_RWALL] * net
                gap = lv - root
                opening = state[S_OPEN]
                if gap > 0.0:
                    opening += dt * (1.0 - opening) * p[P_KVALVE] * gap
                else:
                    opening += dt * opening * p[P_KVALVE] * gap
                opening = min(max(opening, 0.0), 1.0)
                if opening < SHUT and gap > 0.0:
                    opening = SHUT
                state[S_OPEN] = opening
                if opening < SHUT:
                    state[S_QAV] = 0.0
                else:
                    area = area0 * opening
                    bernoulli = BLOOD_G_ML / (2.0 * area * area) / DYN_PER_MMHG
                    inertia = BLOOD_G_ML * VALVE_LENGTH_CM / area / DYN_PER_MMHG
                    x = (state[S_QAV] + dt / inertia * gap) / (
                        1.0 + dt / inertia * bernoulli * abs(state[S_QAV])
                    )
                    state[S_QAV] = x
                state[S_LV] += dt * (mitral - state[S_QAV])
                net = state[S_QAV] - state[S_Q12] - q - coll
                state[S_P1] += dt * net / p[P_C1]
                root = state[S_P1] + p[P_RWALL] * net
                state[S_Q12] += dt / p[P_L] * (root - state[S_P2] - p[P_R] * state[S_Q12])
                state[S_P2] += dt * (state[S_Q12] - state[S_Q23]) / p[P_C2]
                state[S_Q23] += dt / p[P_L] * (state[S_P2] - state[S_P3] - p[P_R] * state[S_Q23])
                state[S_P3] += dt * (state[S_Q23] - (state[S_P3] - pv) / (p[P_RP] * svr)) / p[P_C3]
            else:
                root = atrial
                lv = svr
            # microvascular resistance: autoregulated tone, then the drug, then squeeze
            aim = (state[S_SLOW] - ZERO_FLOW_MMHG) / (p[P_PREF] - ZERO_FLOW_MMHG)
            aim = max(aim, LEAST_AIM)
            target = np.log(p[P_RREF]) + p[P_GAIN] * np.log(aim)
            floor = np.log(p[P_RMIN])
            target = max(target, floor)
            state[S_LNR] += dt / p[P_TAU] * (target - state[S_LNR])
            ln_auto = max(floor, state[S_LNR])
            r = np.exp((1.0 - dilation) * ln_auto + dilation * floor) * tone
            pim = p[P_SQUEEZE] * lv
            vm = state[S_VM]
            vm = max(vm, LEAST_VOLUME * p[P_VM0])
            squeezed = 1.0
            if p[P_POWER] > 0.0:
                squeezed = (p[P_VM0] / vm) ** p[P_POWER]
            rm = r * squeezed
            pm = pim + (state[S_VM] - p[P_VM0]) / p[P_CM]
            pa = state[S_PA]
            # coronary inflow, implicit in Q: L dQ/dt + (R)Q + S Q|Q| = P - pa
            drive = root + p[P_RINJ] * inject - pa
            linear = p[P_VISC] * lesion + wedge + ra1 * r + p[P_INERT] / dt
            source = drive + p[P_INERT] / dt * q
            s = p[P_TURB] * lesion
            mag = abs(source)
            if s > 1e-12:
                new = (-linear + np.sqrt(linear * linear + 4.0 * s * mag)) / (2.0 * s)
            else:
                new = mag / linear
            if source < 0.0:
                new = -new
            dq = (new - q) / dt
            q = new
            coll = (root - pa) / p[P_RCOLL]
            g = dt / p[P_CA]
            pa = (pa + g * (q + coll + pm / (ra2 * rm))) / (1.0 + g / (ra2 * rm))
            state[S_PA] = pa
            inflow = (pa - pm) / (ra2 * rm)
            outflow = (pm - pv) / (rv * rm)
            state[S_VM] += dt * (inflow - outflow)
            loss = (p[P_VISC] * lesion + wedge) * q + s * q * abs(q) + p[P_INERT] * dq
            pd = root + p[P_RINJ] * inject - loss
            state[S_SLOW] += dt / SLOW_PRESSURE_S * (pd - state[S_SLOW])
            volume += q
            micro += q + coll
            drained += outflow
        state[S_Q] = q
        out[k, OUT_ROOT] = root
        out[k, OUT_OSTIUM] = root + p[P_RINJ] * inject - wedge * q
        out[k, OUT_FLOW] = q
        out[k, OUT_DQDT] = dq
        out[k, OUT_MICRO] = micro / substeps
        out[k, OUT_DRAIN] = drained / substeps
        out[k, OUT_VALVE] = state[S_QAV]
        out[k, OUT_LV] = lv
        out[k, OUT_RESISTANCE] = r
        out[k, OUT_MEANFLOW] = volume / substeps
        out[k, OUT_NODE] = pa


_elastance_c: Any = _elastance


def solver() -> Callable[..., None]:
    """Return the compiled solver; the first call compiles or loads it."""
    # the loop calls its callee by a module name, which has to be machine code too by then
    globals()["_elastance_c"] = compiled(_elastance, inline=True)
    return compiled(_solve)
