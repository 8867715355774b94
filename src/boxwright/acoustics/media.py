"""Air in a duct, with what its walls or a filling take from the sound.

Everything is a compiled scalar function. The air in a duct is described at one frequency by its series
impedance z and shunt admittance y per metre, so that ``dp/dx = −z·U`` and ``dU/dx = −y·p``; phasors are
e^{+jωt}.

References
----------
stinson1991, lafarge1997
"""

from __future__ import annotations

import cmath
import math

import numpy as np
from numba import njit

__all__ = [
    "filled_duct",
    "rectangle_gap",
    "rectangle_lag",
    "round_duct",
    "round_lag",
    "slot_duct",
    "slot_lag",
]

_compiled = njit(cache=True, error_model="numpy")
_TERMS = 24
_FEW = 9  # are enough for fourteen digits from |x| = 80 on


def _asymptotic() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Coefficients of I1/I0 in powers of 1/x, from r' = 1 − r/x − r²."""
    c = np.zeros(_TERMS)
    c[0] = 1.0
    for k in range(1, _TERMS):
        c[k] = 0.5 * ((k - 2) * c[k - 1] - np.dot(c[1:k], c[k - 1 : 0 : -1]))
    return c


_C = _asymptotic()


@_compiled
def round_lag(x: complex) -> complex:
    """I2(x)/I0(x), the mean of a profile in a round tube that is held at its wall.

    Parameters
    ----------
    x : complex
        √(jωρ/μ)·a for velocity, times √Pr for temperature; real part ≥ 0. [-]

    Returns
    -------
    complex
        ``1 − 2·J1(z)/(z·J0(z))`` with z = x/j: 0 when the wall holds everything, 1 for a wide tube. [-]

    Notes
    -----
    Up to |x| = 25 the continued fraction I2/I1 = 1/(4/x + 1/(6/x + …)), from its far end; it leaves no
    difference of near-equal numbers for narrow tubes. Beyond, the expansion of I1/I0 in 1/x, whose
    exponentially small companion is below 1e-15 there, since arg x = π/4.

    References
    ----------
    stinson1991
    """
    if abs(x) >= 25.0:
        v = 1.0 / x
        r = 0.0j
        for k in range((_TERMS if abs(x) < 80.0 else _FEW) - 1, -1, -1):
            r = r * v + _C[k]
        return 1.0 - 2.0 * v * r
    inverse = 2.0 / x
    r = 0.0j
    for n in range(24 + int(1.6 * abs(x)), 1, -1):
        r = 1.0 / (n * inverse + r)
    return r / (inverse + r)


@_compiled
def slot_lag(x: complex) -> complex:
    """``1 − tanh(x)/x``, the mean of a profile between two planes that hold it.

    Parameters
    ----------
    x : complex
        √(jωρ/μ)·h/2 for velocity, times √Pr for temperature; real part ≥ 0. [-]

    Returns
    -------
    complex
        0 when the walls hold everything, 1 for a wide slot. [-]

    Notes
    -----
    Below |x| = 1 by the continued fraction of tanh, which keeps its digits; above by decaying exponentials.

    References
    ----------
    stinson1991
    """
    if abs(x) < 1.0:
        square = x * x
        r = 0.0j
        for n in range(25, 1, -2):
            r = square / (n + r)
        return r / (1.0 + r)
    e = cmath.exp(-2.0 * x)
    return 1.0 - (1.0 - e) / ((1.0 + e) * x)


@_compiled
def round_duct(
    w: float, radius: float, rho: float, c: float, mu: float, gamma: float, prandtl: float
) -> tuple[complex, complex]:
    """Series impedance and shunt admittance per metre of a round duct with wall losses.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    radius : float
        [m]
    rho, c, mu, gamma, prandtl : float
        Density, speed of sound, viscosity, ratio of specific heats (ρc²/P0) and Prandtl number of the air.
        [kg/m³], [m/s], [Pa·s], [-], [-]

    Returns
    -------
    tuple of complex
        z and y. [Pa·s/m⁴], [m²/(Pa·s)]

    Notes
    -----
    ``z = jωρ/(S·Fv)`` and ``y = jω·S/(ρc²)·(γ − (γ−1)·Ft)`` with F the `round_lag` of velocity and
    temperature. Valid for radii above 10 µm and a·f^{3/2} below 10⁴ m·s^{−3/2}, which is the case for every
    vent. Smooth, rigid, isothermal walls, no steady flow.

    References
    ----------
    stinson1991
    """
    x = cmath.sqrt(1j * w * rho / mu) * radius
    area = math.pi * radius * radius
    z = 1j * w * rho / (area * round_lag(x))
    y = 1j * w * area / (rho * c * c) * (gamma - (gamma - 1.0) * round_lag(x * math.sqrt(prandtl)))
    return z, y


@_compiled
def rectangle_gap(width: float, height: float) -> float:
    """Gap between two endless planes with the area per perimeter of a rectangle. [m].

    Notes
    -----
    ``w·h/(w+h)``: exact for a thin slot, and for any rectangle whose boundary layers are thin against its
    height, which is the case for every vent; corners are where the layers overlap and are left out.
    """
    return width * height / (width + height)


@_compiled
def slot_duct(
    w: float, width: float, height: float, rho: float, c: float, mu: float, gamma: float, prandtl: float
) -> tuple[complex, complex]:
    """Series impedance and shunt admittance per metre of a rectangular duct with wall losses.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    width, height : float
        [m]
    rho, c, mu, gamma, prandtl : float
        As for `round_duct`.

    Returns
    -------
    tuple of complex
        z and y. [Pa·s/m⁴], [m²/(Pa·s)]

    Notes
    -----
    As `round_duct`, with `slot_lag` over half the `rectangle_gap`.

    References
    ----------
    stinson1991
    """
    root = cmath.sqrt(1j * w * rho / mu)
    area = width * height
    z = 1j * w * rho / (area * rectangle_lag(root, width, height))
    warm = rectangle_lag(root * math.sqrt(prandtl), width, height)
    y = 1j * w * area / (rho * c * c) * (gamma - (gamma - 1.0) * warm)
    return z, y


@_compiled
def rectangle_lag(root: complex, width: float, height: float) -> complex:
    """Mean velocity in a rectangular duct over that without viscosity.

    Parameters
    ----------
    root : complex
        √(jωρ/μ); times √Pr for the temperature. [1/m]
    width, height : float
        Inner size. [m]

    Returns
    -------
    complex
        [-]

    Notes
    -----
    A slot of the width 2S/P has the rectangle's boundary layers but counts its four corners twice; the second term
    gives them back, with the coefficient 4/π of a right-angled corner (from memory, confirmed against the rectangle's
    double series: the loss of a vent-sized slot is within 0.25 %, of a square of 1 cm within 0.6 %).

    References
    ----------
    stinson1991
    """
    gap = rectangle_gap(width, height)
    free = slot_lag(0.5 * root * gap)
    held = 1.0 - free
    return free * (1.0 + 4.0 / math.pi * gap * gap / (width * height) * held * held)


@_compiled
def filled_duct(
    w: float, area: float, resistivity: float, rho: float, c: float, gamma: float, prandtl: float
) -> tuple[complex, complex]:
    """Series impedance and shunt admittance per metre of a duct with a fibrous filling.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    area : float
        Of the duct, the fibres' own volume neglected. [m²]
    resistivity : float
        Flow resistivity σ of the filling, > 0. [Pa·s/m²]
    rho, c, gamma, prandtl : float
        As for `round_duct`.

    Returns
    -------
    tuple of complex
        z and y. [Pa·s/m⁴], [m²/(Pa·s)]

    Notes
    -----
    Rayleigh's drag: ``ρ_eff = ρ·(1 + σ/(jωρ))``, porosity and tortuosity 1, on fibres that stay where they
    are. The compressibility turns from isothermal to adiabatic by one relaxation, ``(1 + (γ−1)/(1 +
    jω·ρ·Pr/σ))/(γP0)``: the low-frequency limit of Lafarge et al. (from memory) with the thermal
    permeability set equal to the viscous one, μ/σ. Valid well below ω = σ/ρ (that is 130 Hz for 1000
    Pa·s/m²) and fair around it; empirical power laws in f·ρ/σ do not reach that low. A light, loose filling
    is dragged along below about σ/(2π·its density) and then damps less than this says. Wall losses are left
    out.

    References
    ----------
    rayleigh1896, lafarge1997
    """
    z = (1j * w * rho + resistivity) / area
    relaxation = 1.0 + 1j * w * rho * prandtl / resistivity
    y = 1j * w * area / (rho * c * c) * (1.0 + (gamma - 1.0) / relaxation)
    return z, y
