"""The state equations of a loudspeaker at level, written once; both solvers step through this one function.

What moves (cone, passives, vents) is a mass between two chambers or a chamber and the outside. A chamber is the volume
of air pushed into it; the voice coil is its current and that of every cell R ∥ L behind it. All numbers lie in three
plain arrays, because compiled functions take few arrays fast and many slowly:

- ``rows``: one row a thing, in the order head, coil cells, creep cells, movers, chambers, curves; the columns are named
  below;
- ``inflow``: how far each state has filled each chamber: its own state, or ``q = at_rest + inflow @ state``;
- ``cubics``: all curves (see `curvetable`).

The states are, in this order: coil current (if the coil has a plain inductance), cell currents, how far each creep cell
of the suspension has given way, displacements of cone and passives, velocities of everything that moves, and the
filling of every chamber whose air can get out or in other than by a cone's displacement. A tight chamber's filling
follows from the displacements alone.

References
----------
klippel2006, small1973vented, iec62458
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.largesignal.curvetable import curve_at

__all__ = ["WIDTH", "derivative", "outputs", "step"]

Real = NDArray[np.float64]

# a product and a sum may be rounded as one; nothing else is let go
_compiled = njit(cache=True, error_model="numpy", fastmath={"contract"})

WIDTH = 11
OUTSIDE = -1.0
STEADY = -1.0
"""Place of a chamber that is no chamber, and of a curve that is none."""

# head
STATES, CELLS, CREEPS, MOVERS, CHAMBERS, RESISTANCE, LE, BL, BL_CURVE, LE_CURVE = range(10)
# coil cells
CELL_R, CELL_L = range(2)
# creep cells
COMPLIANCE, DELAY = range(2)
# movers, the cone first, with one over the mass; positive motion goes from the one chamber to the other
LIGHTNESS, DAMPING, STIFFNESS, AREA, QUADRATIC, WEIGHT, FROM, TO, CURVE, AT_X, AT_V = range(11)
# chambers; the air's stiffness is ρc²/V, the share 1/(1 + leak·absorption)
VOLUME, AIR_STIFFNESS, GAMMA, PRESSURE, LEAK, ABSORPTION, SHARE, FILLED, AT_Q = range(9)
# curves
REACH, PER_METRE, FIRST = range(3)


def outputs(chambers: int) -> int:
    """Length of what `derivative` appends to the states' derivatives: current, pressures, flow to the outside."""
    return chambers + 2


@_compiled
def derivative(y: Real, e: float, rows: Real, inflow: Real, cubics: Real, out: Real) -> None:
    """Rates of change of all states at one instant, and what can be read off on the way.

    Parameters
    ----------
    y : ndarray, shape (n,)
        States.
    e : float
        Voltage at the amplifier's terminals. [V]
    rows, inflow, cubics : ndarray
        The model.
    out : ndarray, shape (n + 2 + nc,)
        Written: rates of change; then the coil's current [A], pressure in every chamber [Pa], and the volume velocity
        into the outside, leaks counted. [m³/s]

    Notes
    -----
    With λ(x) the ratio of the coil's inductance, i the current and j that of each cell's inductance::

        e = R·i + bl(x)·v + d(λ·Le·i)/dt + Σ λ·R2·(i − j),     d(λ·L2·j)/dt = λ·R2·(i − j)
        m·x'' = bl(x)·i + ½·λ'·(Le·i² + Σ L2·j²) − rms·v − x·K(x) + S·(p_from − p_to) − Q·v|v| + weight
        q' = inflow − leak·p,     p = p_air(q) + R_a·q'
        with creep z: the spring's force is K(x)·(x − Σ z), and τ·z' = C·K(x)·(x − Σ z) − z
        p_air = ρc²·q/V,  or adiabatic  P0·((V/(V − q))^γ − 1)

    Valid: chambers small against the wavelength, one temperature.
    """
    n = int(rows[0, STATES])
    cells = int(rows[0, CELLS])
    movers = int(rows[0, MOVERS])
    chambers = int(rows[0, CHAMBERS])
    creep0 = 1 + cells
    mover0 = creep0 + int(rows[0, CREEPS])
    chamber0 = mover0 + movers
    curve0 = chamber0 + chambers

    # flows
    for c in range(chambers):
        out[n + 1 + c] = 0.0
    outside = 0.0
    for m in range(mover0, chamber0):
        flow = rows[m, AREA] * y[int(rows[m, AT_V])]
        a, b = int(rows[m, FROM]), int(rows[m, TO])
        if a >= 0:
            out[n + 1 + a] -= flow
        else:
            outside -= flow
        if b >= 0:
            out[n + 1 + b] += flow
        else:
            outside += flow

    # air in the chambers
    for c in range(chambers):
        r = chamber0 + c
        at = int(rows[r, AT_Q])
        if at >= 0:
            q = y[at]
        else:
            q = rows[r, FILLED]
            for k in range(n):
                q += inflow[c, k] * y[k]
        if rows[r, GAMMA] > 0.0:
            left = max(1.0 - q / rows[r, VOLUME], 0.02)
            air = rows[r, PRESSURE] * (left ** (-rows[r, GAMMA]) - 1.0)
        else:
            air = rows[r, AIR_STIFFNESS] * q
        into = out[n + 1 + c]
        p = (air + rows[r, ABSORPTION] * into) * rows[r, SHARE]
        leaked = rows[r, LEAK] * p
        outside += leaked
        out[n + 1 + c] = p
        if at >= 0:
            out[at] = into - leaked

    # voice coil
    x, v = y[int(rows[mover0, AT_X])], y[int(rows[mover0, AT_V])]
    bl = rows[0, BL]
    if rows[0, BL_CURVE] >= 0.0:
        r = curve0 + int(rows[0, BL_CURVE])
        bl *= curve_at(x, rows[r, REACH], rows[r, PER_METRE], cubics, int(rows[r, FIRST]))[0]
    ratio, slope = 1.0, 0.0
    if rows[0, LE_CURVE] >= 0.0:
        r = curve0 + int(rows[0, LE_CURVE])
        ratio, slope = curve_at(x, rows[r, REACH], rows[r, PER_METRE], cubics, int(rows[r, FIRST]))
    le = rows[0, LE]
    first = 1 if le > 0.0 else 0
    volts = e - bl * v
    ohms = rows[0, RESISTANCE]
    stored = 0.0
    for k in range(cells):
        j = y[first + k]
        ohms += ratio * rows[1 + k, CELL_R]
        volts += ratio * rows[1 + k, CELL_R] * j
        stored += rows[1 + k, CELL_L] * j * j
    if first == 1:
        i = y[0]
        out[0] = (volts - (ohms + le * slope * v) * i) / (ratio * le)
        stored += le * i * i
    else:
        i = volts / ohms
    for k in range(cells):
        j = y[first + k]
        out[first + k] = rows[1 + k, CELL_R] / rows[1 + k, CELL_L] * (i - j) - slope / ratio * v * j
    out[n] = i

    # how far the suspension has crept
    crept = 0.0
    at_creep = first + cells
    for r in range(creep0, mover0):
        crept += y[at_creep + r - creep0]

    # motion
    for m in range(mover0, chamber0):
        at_v = int(rows[m, AT_V])
        v = y[at_v]
        force = rows[m, WEIGHT] - (rows[m, DAMPING] + rows[m, QUADRATIC] * abs(v)) * v
        at_x = int(rows[m, AT_X])
        if at_x >= 0:
            x = y[at_x]
            out[at_x] = v
            stiffness = rows[m, STIFFNESS]
            if rows[m, CURVE] >= 0.0:
                r = curve0 + int(rows[m, CURVE])
                stiffness *= curve_at(x, rows[r, REACH], rows[r, PER_METRE], cubics, int(rows[r, FIRST]))[0]
            if m == mover0:
                spring = stiffness * (x - crept)
                for r in range(creep0, mover0):
                    k = at_creep + r - creep0
                    out[k] = (rows[r, COMPLIANCE] * spring - y[k]) / rows[r, DELAY]
                force -= spring
            else:
                force -= stiffness * x
        a, b = int(rows[m, FROM]), int(rows[m, TO])
        if a >= 0:
            force += rows[m, AREA] * out[n + 1 + a]
        if b >= 0:
            force -= rows[m, AREA] * out[n + 1 + b]
        if m == mover0:
            force += bl * i + 0.5 * slope * stored
        out[at_v] = force * rows[m, LIGHTNESS]
    out[n + 1 + chambers] = outside


@_compiled
def step(
    y: Real, e: Real, h: float, rows: Real, inflow: Real, cubics: Real, work: Real, seen: Real, look: bool
) -> None:
    """One step of the classical fourth-order Runge–Kutta method, in place.

    Parameters
    ----------
    y : ndarray, shape (n,)
        States, replaced by those after the step.
    e : ndarray, shape (3,)
        Voltage at the step's beginning, middle and end. [V]
    h : float
        [s]
    work : ndarray, shape (3, n + 2 + nc)
        Scratch: rates, a state within the step, the state after it.
    seen : ndarray, shape (n + 2 + nc,)
        Where ``look`` is true: receives the states at the step's beginning and what `derivative` appends to them.
    """
    n = y.size
    rate, there, total = work[0], work[1], work[2]
    for k in range(n):
        total[k] = y[k]
        there[k] = y[k]
    for stage in range(4):
        derivative(there, e[(stage + 1) // 2], rows, inflow, cubics, rate)
        if look and stage == 0:
            for k in range(seen.size):
                seen[k] = y[k] if k < n else rate[k]
        share = h / 6.0 if stage in (0, 3) else h / 3.0
        reach = h if stage == 2 else 0.5 * h
        for k in range(n):
            total[k] += share * rate[k]
            there[k] = y[k] + reach * rate[k]
    for k in range(n):
        y[k] = total[k]
