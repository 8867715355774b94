"""The rounded end of a vent: a short duct that widens along a quarter circle.

References
----------
rayleigh1896
"""

from __future__ import annotations

import math

import numpy as np

__all__ = ["flare_length", "flare_surplus_round", "flare_surplus_slot"]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)
_COSINES = np.cos(0.25 * math.pi * (1.0 + _NODES))


def flare_length(width: float, height: float, rounded_w: int, rounded_h: int, radius: float) -> float:
    """Acoustic length of one rounded end, over the narrow area.

    Parameters
    ----------
    width, height : float
        Of the narrow part; a round duct is given as its diameter, twice. [m]
    rounded_w, rounded_h : int
        How many of the two sides across the width and across the height are rounded, 0 to 2. [-]
    radius : float
        Of the rounding, ≥ 0; the rounded end is as long as that. [m]

    Returns
    -------
    float
        ``∫ S0/S(x) dx`` over the rounding. [m]

    Notes
    -----
    The profile is a quarter circle: with x = r·sin θ each rounded side has receded by r·(1 − cos θ). The
    pressure is taken as even over each plane cross-section, which gives a lower bound of the true mass (the
    planes may be thought of as sheets that even out the pressure); `flare_surplus_round` and
    `flare_surplus_slot` are what it misses. 32-point Gauss quadrature over θ.

    References
    ----------
    rayleigh1896
    """
    back = radius * (1.0 - _COSINES)
    areas = (width + rounded_w * back) * (height + rounded_h * back) / (width * height)
    return 0.25 * math.pi * radius * float((_WEIGHTS * _COSINES / areas).sum())


def flare_surplus_round(radius: float, flare: float) -> float:
    """Length that the plane cross-sections of `flare_length` miss at one rounded end of a round duct.

    Parameters
    ----------
    radius, flare : float
        Of the duct and of its rounding. [m]

    Returns
    -------
    float
        [m]

    Notes
    -----
    ``0.282·a·(1 − e^{−1.95·r/a})``, fitted to our own solutions of Laplace's equation for a flanged end on a
    grid of a/24 (r/a = 0.25 … 4: 0.117, 0.178, 0.240, 0.278, 0.279 times a), within 0.01·a. The air does not
    follow the steep outer part of the arc: that is where the surplus comes from.
    """
    return 0.282 * radius * (1.0 - math.exp(-1.95 * flare / radius))


def flare_surplus_slot(half: float, flare: float) -> float:
    """Length that the plane cross-sections of `flare_length` miss at one rounded end of a slot.

    Parameters
    ----------
    half : float
        Half the height between two rounded sides, or the height between a rounded side and a wall. [m]
    flare : float
        Radius of the rounding. [m]

    Returns
    -------
    float
        [m]

    Notes
    -----
    ``0.25·b·ln(1 + 2r/b)`` with b = half, fitted to our own solutions of Laplace's equation for a wide slot
    (two dimensions) in a baffle on a grid of b/24 (r/b = 0.25 … 4: 0.101, 0.173, 0.276, 0.401, 0.535 times
    b), within 0.015·b. For a square opening it is at most 0.04·b above `flare_surplus_round` up to r = b.
    """
    return 0.25 * half * math.log(1.0 + 2.0 * flare / half)
