"""The elements of a box, one compiled function each.

Everything here is a pure function of scalars that Numba compiles and the callers' loops take in whole: the response
of one design and the sweep over millions of candidates run through the same lines. Acoustic quantities follow the
impedance analogy (pressure over volume velocity), phasors are e^{+jωt}.
"""

from __future__ import annotations

import math

from numba import njit

__all__ = [
    "chamber_admittance",
    "coil_impedance",
    "cone_velocity",
    "driver_impedance",
    "mass_spring_impedance",
    "reciprocal",
]

_compiled = njit(cache=True, error_model="numpy")


@_compiled
def reciprocal(z: complex) -> complex:
    """1/z without the range checks of a general complex division, so that loops vectorise.

    Valid while |z|² neither overflows nor underflows; acoustic and mechanical impedances are far from either.
    """
    scale = 1.0 / (z.real * z.real + z.imag * z.imag)
    return complex(z.real * scale, -z.imag * scale)


@_compiled
def coil_impedance(w: float, le: float, k: float, n: float, l2: float, r2: float) -> complex:
    """Impedance of the coil beyond its d.c. resistance. [Ω].

    Parameters
    ----------
    w : float
        Angular frequency. [rad/s]
    le, k, n, l2, r2 : float
        See `boxwright.parts.Coil`. [H], [Ω·sⁿ], [-], [H], [Ω]

    References
    ----------
    leach2002, iec62458
    """
    z = complex(0.0, w * le)
    if k > 0.0:
        size = k * w**n
        angle = 0.5 * math.pi * n
        z += complex(size * math.cos(angle), size * math.sin(angle))
    if l2 > 0.0 and r2 > 0.0:
        x = w * l2
        share = r2 * x / (r2 * r2 + x * x)
        z += complex(share * x, share * r2)
    return z


@_compiled
def driver_impedance(w: float, mms: float, rms: float, cms: float, creep: float, ws: float) -> complex:
    """Mechanical impedance of the moving part alone: ``jω·mms + rms + 1/(jω·cms(ω))``. [N·s/m].

    Parameters
    ----------
    w : float
        Angular frequency. [rad/s]
    mms, rms, cms : float
        [kg], [N·s/m], [m/N]
    creep : float
        λ of ``cms(ω) = cms·(1 − λ·log10(jω/ωs))``. [-]
    ws : float
        Angular resonance in free air. [rad/s]

    References
    ----------
    knudsen1993
    """
    if creep == 0.0:
        return complex(rms, w * mms - 1.0 / (w * cms))
    # log10(j·u) = log10(u) + j·(π/2)/ln(10)
    soft = complex(1.0 - creep * math.log10(w / ws), -creep * 0.5 * math.pi / math.log(10.0))
    return complex(rms, w * mms) + complex(0.0, -1.0 / (w * cms)) * reciprocal(soft)


@_compiled
def chamber_admittance(w: float, cab: float, r_absorption: float) -> complex:
    """Admittance of the air in a chamber, its absorption in series with its compliance. [m³/(Pa·s)].

    Parameters
    ----------
    w : float
        Angular frequency. [rad/s]
    cab : float
        Acoustic compliance V/(ρc²). [m³/Pa]
    r_absorption : float
        1/(Q_A·ω_b·cab); 0: none. [Pa·s/m³]

    References
    ----------
    small1973vented
    """
    if r_absorption == 0.0:
        return complex(0.0, w * cab)
    x = w * cab * r_absorption
    scale = w * cab / (1.0 + x * x)
    return complex(x * scale, scale)


@_compiled
def mass_spring_impedance(
    w: float, mass: float, resistance: float, resistance_half: float, stiffness: float
) -> complex:
    """Impedance of a passive or a lumped vent. [Pa·s/m³].

    Parameters
    ----------
    w : float
        Angular frequency. [rad/s]
    mass : float
        Acoustic mass of all equal ones in parallel. [kg/m⁴]
    resistance : float
        Acoustic resistance. [Pa·s/m³]
    resistance_half : float
        Boundary layer of a vent over √ω: as much reactance as resistance; 0 for a passive. [Pa·s^1.5/m³]
    stiffness : float
        Reciprocal acoustic compliance; 0 for a vent. [Pa/m³]

    References
    ----------
    small1974, stinson1991
    """
    layer = resistance_half * math.sqrt(w)
    return complex(resistance + layer, w * mass - stiffness / w + layer)


@_compiled
def cone_velocity(z_electrical: complex, bl: float, z_mechanical: complex) -> complex:
    """Cone velocity per volt at the source: ``bl / (Ze·Zm + bl²)``. [m/(s·V)].

    Parameters
    ----------
    z_electrical : complex
        Cable, output resistance, re and coil in series. [Ω]
    bl : float
        [N/A]
    z_mechanical : complex
        Moving part and both acoustic loads. [N·s/m]
    """
    return bl * reciprocal(z_electrical * z_mechanical + bl * bl)
