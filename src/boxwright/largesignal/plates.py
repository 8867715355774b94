"""Thin rectangular plates: first modes, and how far they give under even pressure.

With simply supported edges by Navier's double series; with clamped edges by Ritz's method on polynomials that meet the
edges. Everything is dimensionless here: sides a and b, stiffness D = E·h³/(12·(1 − ν²)).

References
----------
leissa1973, timoshenko1959
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boxwright.errors import InputError

__all__ = [
    "bending_stiffness",
    "clamped_deflection",
    "clamped_modes",
    "clamped_volume",
    "mode_frequency",
    "supported_deflection",
    "supported_modes",
    "supported_volume",
]

Real = NDArray[np.float64]

_TERMS = 16  # polynomials a direction: the lowest three λ are converged to 1e-7 for sides from 1 : 5 to 5 : 1
_SERIES = 399  # highest half-wave of Navier's series


def bending_stiffness(youngs_modulus: float, thickness: float, poisson: float) -> float:
    """Stiffness of a plate against bending, D. [N·m].

    Parameters
    ----------
    youngs_modulus : float
        > 0. [Pa]
    thickness : float
        > 0. [m]
    poisson : float
        0 to below 0.5. [-]
    """
    for name, value, unit in (("youngs_modulus", youngs_modulus, "Pa"), ("thickness", thickness, "m")):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} must be > 0 {unit}, got {value:g}")
    if not 0.0 <= poisson < 0.5:
        raise InputError(f"poisson must be 0 to below 0.5, got {poisson:g}")
    return youngs_modulus * thickness**3 / (12.0 * (1.0 - poisson**2))


def mode_frequency(factor: float, a: float, stiffness: float, mass_per_area: float) -> float:
    """Frequency of a mode from its factor λ = ω·a²·√(ρh/D). [Hz].

    Parameters
    ----------
    factor : float
        [-]
    a : float
        The side that the factor refers to. [m]
    stiffness : float
        D. [N·m]
    mass_per_area : float
        ρh. [kg/m²]
    """
    return factor / (2.0 * math.pi * a * a) * math.sqrt(stiffness / mass_per_area)


def _ratio(ratio: float) -> float:
    if not (math.isfinite(ratio) and ratio > 0.0):
        raise InputError(f"sides of a plate must be > 0 m, got a ratio of {ratio:g}")
    return ratio


def supported_modes(ratio: float, count: int = 3) -> tuple[float, ...]:
    """Factors λ of the lowest modes with simply supported edges, ``π²·(m² + (a/b)²·n²)``. [-].

    Parameters
    ----------
    ratio : float
        a/b. [-]
    count : int
        How many.
    """
    r2 = _ratio(ratio) ** 2
    most = count * max(1, math.ceil(max(ratio, 1.0 / ratio)))
    found = (math.pi**2 * (m * m + r2 * n * n) for m in range(1, most + 1) for n in range(1, most + 1))
    return tuple(sorted(found)[:count])


def _navier(ratio: float) -> tuple[Real, Real, Real]:
    """Odd half-waves across and along, and the amplitude of each over p·a⁴/D."""
    odd = np.arange(1, _SERIES + 1, 2, dtype=np.float64)
    m, n = odd[:, None], odd[None, :]
    return m, n, 16.0 / (math.pi**6 * m * n * (m * m + ratio**2 * n * n) ** 2)


def supported_deflection(ratio: float) -> float:
    """Deflection at the centre over p·a⁴/D, simply supported edges, a/b = ratio. [-]."""
    m, n, amplitude = _navier(_ratio(ratio))
    sign = (-1.0) ** ((m - 1.0) / 2.0) * (-1.0) ** ((n - 1.0) / 2.0)
    return float(np.sum(sign * amplitude))


def supported_volume(ratio: float) -> float:
    """Volume swept over p·a⁵·b/D, simply supported edges, a/b = ratio. [-]."""
    m, n, amplitude = _navier(_ratio(ratio))
    return float(np.sum(amplitude * 4.0 / (math.pi**2 * m * n)))


@lru_cache(maxsize=1)
def _clamped_basis() -> tuple[Real, Real, Real, Real, Real]:
    """Integrals of the polynomials (1 − x²)²·J(x) on −1 … 1: mass, slope, bend, of one; and their value at 0.

    J are Jacobi's polynomials of weight (1 − x²)⁴, so that the mass matrix is diagonal.
    """
    from numpy.polynomial import Polynomial
    from scipy.special import jacobi

    edge = Polynomial([1.0, 0.0, -1.0]) ** 2
    nodes, weights = np.polynomial.legendre.leggauss(2 * _TERMS + 8)
    values, slopes, bends, centre = [], [], [], []
    for k in range(_TERMS):
        shape = edge * Polynomial(jacobi(k, 4.0, 4.0).coef[::-1])
        size = math.sqrt(float(np.sum(weights * shape(nodes) ** 2)))
        shape = shape / size
        values.append(shape(nodes))
        slopes.append(shape.deriv(1)(nodes))
        bends.append(shape.deriv(2)(nodes))
        centre.append(float(shape(0.0)))
    v, s, b = np.array(values), np.array(slopes), np.array(bends)
    return (v * weights) @ v.T, (s * weights) @ s.T, (b * weights) @ b.T, v @ weights, np.array(centre)


def _clamped_stiffness(ratio: float, across: int, along: int) -> Real:
    """Ritz's stiffness over D/a⁴, the mass being the unit matrix; even (0) or odd (1) polynomials a direction."""
    mass, slope, bend, _, _ = _clamped_basis()
    x, y = slice(across, None, 2), slice(along, None, 2)
    # x runs over half a side: every derivative brings 2/a or 2/b
    r2 = ratio**2
    whole = np.kron(bend[x, x], mass[y, y]) + 2.0 * r2 * np.kron(slope[x, x], slope[y, y])
    return np.asarray(16.0 * (whole + r2 * r2 * np.kron(mass[x, x], bend[y, y])))


def clamped_modes(ratio: float, count: int = 3) -> tuple[float, ...]:
    """Factors λ of the lowest modes with clamped edges. [-].

    Parameters
    ----------
    ratio : float
        a/b. [-]
    count : int
        How many, at most 10.

    Notes
    -----
    Ritz's method gives upper bounds. With 16 × 16 polynomials they are converged to 1e-7; the printed tables, with 36
    beam functions, are up to 0.1 % higher.

    References
    ----------
    leissa1973
    """
    blocks = [np.linalg.eigvalsh(_clamped_stiffness(_ratio(ratio), x, y)) for x in (0, 1) for y in (0, 1)]
    squares = np.sort(np.concatenate(blocks))
    return tuple(float(math.sqrt(s)) for s in squares[:count])


def _clamped_shape(ratio: float) -> tuple[Real, Real, Real]:
    """Amplitudes under even pressure over p·a⁴/D, and what each gives at the centre and as a volume."""
    _, _, _, whole, centre = _clamped_basis()
    load, middle = np.kron(whole[::2], whole[::2]), np.kron(centre[::2], centre[::2])
    shape = np.linalg.solve(_clamped_stiffness(_ratio(ratio), 0, 0), load)
    return shape, np.asarray(middle, np.float64), np.asarray(load, np.float64)


def clamped_deflection(ratio: float) -> float:
    """Deflection at the centre over p·a⁴/D, clamped edges, a/b = ratio. [-]."""
    shape, centre, _ = _clamped_shape(ratio)
    return float(shape @ centre)


def clamped_volume(ratio: float) -> float:
    """Volume swept over p·a⁵·b/D, clamped edges, a/b = ratio. [-]."""
    shape, _, load = _clamped_shape(ratio)
    return float(shape @ load) / 4.0
