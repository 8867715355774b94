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
    cone_velocity,
    driver_impedance,
    mass_spring_admittance,
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
    opening: tuple[float, float, float, float],
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
        Mass, resistance, resistance over √ω, stiffness of all openings together.
    velocity2, current2, opening2 : ndarray, shape (nf,)
        Squared magnitudes of cone velocity, current, volume velocity of the openings. [(m/s)²], [A²], [(m³/s)²]
    outside : ndarray, shape (nf,)
        Volume velocity into the outside world. [m³/s]
    """
    cab, leak = rear
    mass, resistance, half, stiffness = opening
    inverse = 1.0 / bl
    if where == CLOSED:
        for i in range(first, last):
            z = reciprocal(chamber_admittance(w[i], cab, 0.0) + leak)
            zm = mechanical[i] + sd * sd * z
            v = cone_velocity(electrical[i], bl, zm)
            current = v * zm * inverse
            u = sd * v * (1.0 - z * leak)
            velocity2[i] = v.real * v.real + v.imag * v.imag
            current2[i] = current.real * current.real + current.imag * current.imag
            opening2[i] = 0.0
            outside[i] = u
    elif where == REAR:
        for i in range(first, last):
            yo = mass_spring_admittance(w[i], mass, resistance, half, stiffness)
            z = reciprocal(chamber_admittance(w[i], cab, 0.0) + leak + yo)
            zm = mechanical[i] + sd * sd * z
            v = cone_velocity(electrical[i], bl, zm)
            current = v * zm * inverse
            uo = sd * v * z * yo
            u = sd * v * (1.0 - z * (leak + yo))
            velocity2[i] = v.real * v.real + v.imag * v.imag
            current2[i] = current.real * current.real + current.imag * current.imag
            opening2[i] = uo.real * uo.real + uo.imag * uo.imag
            outside[i] = u
    else:
        cab_front, leak_front = front
        for i in range(first, last):
            yo = mass_spring_admittance(w[i], mass, resistance, half, stiffness)
            zr = reciprocal(chamber_admittance(w[i], cab, 0.0) + leak)
            zf = reciprocal(chamber_admittance(w[i], cab_front, 0.0) + leak_front + yo)
            zm = mechanical[i] + sd * sd * (zr + zf)
            v = cone_velocity(electrical[i], bl, zm)
            current = v * zm * inverse
            uo = sd * v * zf * yo
            u = sd * v * (zf * (yo + leak_front) - zr * leak)
            velocity2[i] = v.real * v.real + v.imag * v.imag
            current2[i] = current.real * current.real + current.imag * current.imag
            opening2[i] = uo.real * uo.real + uo.imag * uo.imag
            outside[i] = u
