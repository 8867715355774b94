"""The compiled heart of the search: one candidate, then blocks of them.

The same element functions as in the response of a single design, looped over frequency so that the compiler turns
them into vector instructions. Levels and travels stay squared until something has to be shown.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.acoustics.elements import (
    chamber_admittance,
    coil_impedance,
    driver_impedance,
    mass_spring_impedance,
    reciprocal,
)

__all__ = ["CLOSED", "FRONT", "REAR", "driver_rows", "move"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

CLOSED, REAR, FRONT = 0, 1, 2  # where the openings are: nowhere, behind the cone, in front of it

_fast = njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz", "arcp"})


@_fast
def driver_rows(w: Real, row: tuple[float, ...], electrical: Complex, mechanical: Complex) -> None:
    """Electrical and mechanical impedance of one driver over frequency, written into the last two arguments.

    Parameters
    ----------
    w : ndarray, shape (nf,)
        [rad/s]
    row : tuple
        re, mms, rms, cms, creep, le, k, n, l2, r2.
    electrical, mechanical : ndarray, shape (nf,)
        [Ω], [N·s/m]
    """
    re, mms, rms, cms, creep, le, k, n, l2, r2 = row
    ws = 1.0 / math.sqrt(mms * cms)
    for i in range(w.size):
        electrical[i] = re + coil_impedance(w[i], le, k, n, l2, r2)
        mechanical[i] = driver_impedance(w[i], mms, rms, cms, creep, ws)


@_fast
def _square(z: complex) -> float:
    return z.real * z.real + z.imag * z.imag


@_fast
def _duct_mass(kl2: float) -> float:
    # tan(x)/x, by x²
    return 1.0 + kl2 * (1.0 / 3.0 + kl2 * (2.0 / 15.0 + kl2 * (17.0 / 315.0)))


@_fast
def _duct_gain(kl2: float) -> float:
    # 1/cos(x), by x²
    return 1.0 + kl2 * (0.5 + kl2 * (5.0 / 24.0 + kl2 * (61.0 / 720.0)))


@_fast
def _behind(
    i: int,
    air: complex,
    leak: float,
    zo: complex,
    electrical: complex,
    mechanical: complex,
    bl: float,
    sd: float,
    velocity2: Real,
    current2: Real,
) -> complex:
    # Cone and current at one frequency with an opening of impedance zo behind the cone; the common reciprocal.
    d = (air + leak) * zo + 1.0
    zm_d = mechanical * d + sd * sd * zo
    n = reciprocal(electrical * zm_d + bl * bl * d)
    n2 = _square(n)
    velocity2[i] = bl * bl * _square(d) * n2
    current2[i] = _square(zm_d) * n2
    return n


@_fast
def move(
    where: int,
    w: Real,
    first: int,
    last: int,
    electrical: Complex,
    mechanical: Complex,
    bl: float,
    sd: float,
    rear: tuple[float, float],
    front: tuple[float, float],
    opening: tuple[float, float, float, float, float],
    velocity2: Real,
    current2: Real,
    opening2: Real,
    outside: Complex,
) -> None:
    """What moves for one volt, at frequencies first to last, written into the last four arguments.

    Parameters
    ----------
    where : int
        CLOSED, REAR or FRONT.
    w : ndarray, shape (nf,)
        [rad/s]
    electrical, mechanical : ndarray, shape (nf,)
        Of the driver alone. [Ω], [N·s/m]
    rear, front : tuple
        Compliance and leak conductance of the chamber. [m³/Pa], [m³/(Pa·s)]
    opening : tuple
        Mass, resistance, resistance over √ω, stiffness of all openings together; squared time that sound takes
        through them, 0 for passives.
    velocity2, current2, opening2 : ndarray, shape (nf,)
        Squared magnitudes of cone velocity, current, volume velocity of the openings. [(m/s)²], [A²], [(m³/s)²]
    outside : ndarray, shape (nf,)
        Volume velocity into the outside world. [m³/s]

    Notes
    -----
    ``v = bl/(Ze·Zm + bl²)`` with numerator and denominator multiplied by what the loads divide by: with
    ``d = Y·Zo + 1`` (chamber Y, opening Zo) the load is ``sd²·Zo/d`` and one reciprocal serves everything.

    A vent is a short duct: its mass grows by ``tan(kl)/kl`` and its outer end moves ``1/cos(kl)`` as much air as its
    inner one; both as series up to (kl)⁶, within 0.4 % and 0.6 % to kl = 0.8 (a metre at 44 Hz).
    """
    cab, leak = rear
    mass, resistance, half, stiffness, through2 = opening
    push = sd * bl
    if where == CLOSED:
        for i in range(first, last):
            air = chamber_admittance(w[i], cab, 0.0)
            y = air + leak
            zm_y = mechanical[i] * y + sd * sd
            n = reciprocal(electrical[i] * zm_y + bl * bl * y)
            n2 = _square(n)
            velocity2[i] = bl * bl * _square(y) * n2
            current2[i] = _square(zm_y) * n2
            opening2[i] = 0.0
            outside[i] = push * air * n
    elif where == REAR and through2 == 0.0:
        # passives: nothing of a duct about them, and a loop that is a third faster for it
        for i in range(first, last):
            air = chamber_admittance(w[i], cab, 0.0)
            zo = mass_spring_impedance(w[i], mass, resistance, half, stiffness)
            n = _behind(i, air, leak, zo, electrical[i], mechanical[i], bl, sd, velocity2, current2)
            opening2[i] = push * push * _square(n)
            outside[i] = push * air * zo * n
    elif where == REAR:
        for i in range(first, last):
            air = chamber_admittance(w[i], cab, 0.0)
            kl2 = w[i] * w[i] * through2
            gain = _duct_gain(kl2)
            zo = mass_spring_impedance(w[i], mass * _duct_mass(kl2), resistance, half, stiffness)
            n = _behind(i, air, leak, zo, electrical[i], mechanical[i], bl, sd, velocity2, current2)
            opening2[i] = push * push * _square(n) * gain * gain
            outside[i] = push * (air * zo + (1.0 - gain)) * n
    else:
        cab_front, leak_front = front
        for i in range(first, last):
            kl2 = w[i] * w[i] * through2
            gain = _duct_gain(kl2)
            zo = mass_spring_impedance(w[i], mass * _duct_mass(kl2), resistance, half, stiffness)
            air = chamber_admittance(w[i], cab, 0.0)
            y = air + leak
            d = (chamber_admittance(w[i], cab_front, 0.0) + leak_front) * zo + 1.0
            zm_yd = (mechanical[i] * y + sd * sd) * d + sd * sd * zo * y
            n = reciprocal(electrical[i] * zm_yd + bl * bl * y * d)
            n2 = _square(n)
            velocity2[i] = bl * bl * _square(y) * _square(d) * n2
            current2[i] = _square(zm_yd) * n2
            opening2[i] = push * push * _square(y) * n2 * gain * gain
            outside[i] = push * (y * (gain + leak_front * zo) - leak * d) * n
