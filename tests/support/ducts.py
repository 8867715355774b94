"""Ducts for the circuit: end corrections, wall losses and short pieces of a line, by other means than the
product's.

Bessel functions of complex argument from scipy, the sine series for rectangles, quadrature for their
ends. Sources: stinson1991; nomura1960 and levine1948 (recomputed, 0.6127) for the ends.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from functools import cache

import numpy as np
from scipy.integrate import quad
from scipy.special import jve

from boxwright.air import Air
from boxwright.design import VentOpening

PRANDTL = 0.71
"""Of air, from memory."""
END_CORRECTION = {"flanged": 0.8217, "free": 0.6127}
"""In radii: Nomura et al. 1960; Levine & Schwinger 1948, recomputed."""

Duct = Callable[[float], tuple[complex, complex]]
"""Characteristic impedance [Pa·s/m³] and propagation constant [1/m] over ω."""


def area(vent: VentOpening) -> float:
    return math.pi * vent.diameter**2 / 4.0 if vent.shape == "round" else vent.width * vent.height


def end_lengths(vent: VentOpening) -> float:
    """What the air beyond both ends adds to a plain vent's length."""
    ends = zip(vent.ends, (0, vent.walls), strict=True)
    if vent.shape == "round":
        return sum(END_CORRECTION[end] * vent.diameter / 2.0 for end, _ in ends)
    # Each wall along the inner end mirrors the opening, the first across its height, the second across its
    # width. A rectangle's end is a rectangular piston's, lessened as a round duct's end is against a round
    # piston's.
    round_piston = 8.0 / (3.0 * math.pi)
    total = 0.0
    for end, walls in ends:
        height = vent.height * (2.0 if walls >= 1 else 1.0)
        width = vent.width * (2.0 if walls >= 2 else 1.0)
        total += END_CORRECTION[end] / round_piston * _piston_length(width, height)
    return total


def _piston_length(width: float, height: float) -> float:
    """Self-radiation mass of a rectangular piston in a baffle over density and area, by quadrature. [m].

    Two points of the rectangle lie (r, φ) apart with weight (w − r·cos φ)(h − r·sin φ); in polar form the
    singularity of 1/r is gone.
    """

    def ray(angle: float) -> float:
        c, s = math.cos(angle), math.sin(angle)
        end = min(width / c if c > 0.0 else math.inf, height / s if s > 0.0 else math.inf)
        return float(quad(lambda r: (width - r * c) * (height - r * s), 0.0, end, epsabs=0.0)[0])

    corner = math.atan2(height, width)
    pieces = [quad(ray, 0.0, corner, epsrel=1e-10)[0], quad(ray, corner, math.pi / 2.0, epsrel=1e-10)[0]]
    return 4.0 * float(sum(pieces)) / (2.0 * math.pi * width * height)


def vent_duct(vent: VentOpening, air: Air) -> tuple[Duct, float]:
    """A vent as a duct, and its length with both ends: the air there is taken for more duct."""
    lag = (
        _round_lag(vent.diameter / 2.0) if vent.shape == "round" else _rectangle_lag(vent.width, vent.height)
    )
    return _empty(air, area(vent), lag), vent.length + end_lengths(vent)


def line_duct(air: Air, section: float, resistivity: float) -> Duct:
    """A piece of a line: with its wall's layers when empty, with drag when filled."""
    if resistivity == 0.0:
        return _empty(air, section, _round_lag(math.sqrt(section / math.pi)))
    excess = air.bulk_modulus / air.pressure - 1.0

    @cache
    def filled(omega: float) -> tuple[complex, complex]:
        drag = (1j * omega * air.density + resistivity) / section
        relaxed = excess / (1.0 + 1j * omega * air.density * PRANDTL / resistivity)
        give = 1j * omega * section / air.bulk_modulus * (1.0 + relaxed)
        return cmath.sqrt(drag / give), cmath.sqrt(drag * give)

    return filled


Lag = Callable[[complex], complex]
"""Mean over a cross-section of a profile that the wall holds, for √(jω/diffusivity). [1/m]"""


def _round_lag(radius: float) -> Lag:
    def lag(root: complex) -> complex:
        y = 1j * radius * root
        # scaled alike, so that a wide duct overflows neither
        return 1.0 - complex(2.0 * jve(1, y) / (y * jve(0, y)))

    return lag


def _rectangle_lag(width: float, height: float) -> Lag:
    """Sine series across the width, for each term the profile across the height."""
    order = (np.arange(20000) * 2.0 + 1.0) * math.pi

    def lag(root: complex) -> complex:
        rate = np.sqrt(root**2 + (order / width) ** 2) * height / 2.0
        return complex(
            (8.0 / order**2 * root**2 * (height / 2.0 / rate) ** 2 * (1.0 - np.tanh(rate) / rate)).sum()
        )

    return lag


def _empty(air: Air, section: float, lag: Lag) -> Duct:
    """With viscous and thermal boundary layers."""
    heat_ratio = air.bulk_modulus / air.pressure

    @cache
    def duct(omega: float) -> tuple[complex, complex]:
        root = cmath.sqrt(1j * omega * air.density / air.viscosity)
        density = air.density / lag(root)
        give = (heat_ratio - (heat_ratio - 1.0) * lag(root * math.sqrt(PRANDTL))) / air.bulk_modulus
        return cmath.sqrt(density / give) / section, 1j * omega * cmath.sqrt(density * give)

    return duct
