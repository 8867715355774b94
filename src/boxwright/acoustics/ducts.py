"""Ducts as two-ports: straight and conical pieces, lines, and vents long and short.

Everything is a compiled scalar function of one frequency; z and y are those of `boxwright.acoustics.media`,
whose functions can be had from here too. Phasors are e^{+jωt}.

References
----------
stinson1991, morse1968
"""

from __future__ import annotations

import cmath
import math

import numpy as np
from numba import njit

from boxwright.acoustics.media import (
    filled_duct,
    rectangle_gap,
    round_duct,
    round_lag,
    slot_duct,
    slot_lag,
)

__all__ = [
    "cone_abcd",
    "duct_abcd",
    "duct_input",
    "filled_duct",
    "line_input",
    "rectangle_gap",
    "round_duct",
    "round_lag",
    "slot_duct",
    "slot_lag",
    "vent_input_round",
    "vent_input_slot",
    "vent_loss_factor",
    "vent_mass",
    "vent_resistance",
]

_compiled = njit(cache=True, error_model="numpy")


@_compiled
def duct_abcd(z: complex, y: complex, length: float) -> tuple[complex, complex, complex, complex]:
    """Transfer matrix of a straight duct: ``p1 = A·p2 + B·U2``, ``U1 = C·p2 + D·U2``.

    Parameters
    ----------
    z, y : complex
        Per metre. [Pa·s/m⁴], [m²/(Pa·s)]
    length : float
        [m]

    Returns
    -------
    tuple of complex
        A, B, C, D; flow is counted from end 1 to end 2. [-], [Pa·s/m³], [m³/(Pa·s)], [-]
    """
    propagation = cmath.sqrt(z * y)
    through = propagation * length
    ch = cmath.cosh(through)
    sh = cmath.sinh(through)
    return ch, z / propagation * sh, y / propagation * sh, ch


@_compiled
def cone_abcd(
    z: complex, y: complex, length: float, area_start: float, area_end: float
) -> tuple[complex, complex, complex, complex]:
    """Transfer matrix of a conical duct for spherical waves.

    Parameters
    ----------
    z, y : complex
        Per metre, *times and over the area*: z·S and y/S, which do not change along the cone. [Pa·s/m²],
        [1/(Pa·s)]
    length : float
        [m]
    area_start, area_end : float
        [m²]

    Returns
    -------
    tuple of complex
        A, B, C, D as in `duct_abcd`; A·D − B·C = 1.

    Notes
    -----
    p = φ/x with x from the apex turns the cone into a straight duct for φ; the apex is then eliminated in
    favour of the two radii, so that equal areas are no special case. Plane areas stand for spherical caps.
    Exact without losses; z and y should be those of a mean radius.

    References
    ----------
    morse1968
    """
    propagation = cmath.sqrt(z * y)
    e = cmath.exp(propagation * length)
    ch = 0.5 * (e + 1.0 / e)
    sh = 0.5 * (e - 1.0 / e) / propagation
    grow = math.sqrt(area_end / area_start)
    start = (grow - 1.0) / length  # one over the distance from the apex
    end = start / grow
    a = grow * ch - start * sh
    b = z * sh / (area_start * grow)
    c = area_start / z * (start * start * (length * ch - sh) + grow * propagation * propagation * sh)
    d = ch / grow + end * sh
    return a, b, c, d


@_compiled
def duct_input(z: complex, y: complex, length: float, load: complex) -> tuple[complex, complex]:
    """Input impedance of a loaded straight duct, and the share of the flow that arrives.

    Parameters
    ----------
    z, y : complex
        Per metre. [Pa·s/m⁴], [m²/(Pa·s)]
    length : float
        [m]
    load : complex
        Impedance at the far end; 0: open without mass. [Pa·s/m³]

    Returns
    -------
    tuple of complex
        Input impedance, and flow out over flow in. [Pa·s/m³], [-]

    Notes
    -----
    The transfer matrix with its growing exponential divided out: no overflow, however long and lossy the
    duct.
    """
    propagation = cmath.sqrt(z * y)
    e = cmath.exp(-propagation * length)
    ch = 0.5 * (1.0 + e * e)
    sh = 0.5 * (1.0 - e * e)
    flow = ch + y / propagation * sh * load
    return (ch * load + z / propagation * sh) / flow, e / flow


@_compiled
def line_input(
    w: float,
    lengths: np.ndarray[tuple[int], np.dtype[np.float64]],
    areas_start: np.ndarray[tuple[int], np.dtype[np.float64]],
    areas_end: np.ndarray[tuple[int], np.dtype[np.float64]],
    resistivities: np.ndarray[tuple[int], np.dtype[np.float64]],
    open_end: bool,
    end_length: float,
    rho: float,
    c: float,
    mu: float,
    gamma: float,
    prandtl: float,
) -> tuple[complex, complex]:
    """Input impedance of a line of straight and conical pieces, and the share of the flow that leaves it.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    lengths, areas_start, areas_end, resistivities : ndarray, shape (n,)
        The pieces from the cone outwards; resistivity 0: empty. [m], [m²], [m²], [Pa·s/m²]
    open_end : bool
        Whether the far end is open; otherwise it is a rigid wall.
    end_length : float
        End correction of an open far end. [m]
    rho, c, mu, gamma, prandtl : float
        As for `round_duct`.

    Returns
    -------
    tuple of complex
        Input impedance, and flow out of the open end over flow in. [Pa·s/m³], [-]

    Notes
    -----
    Pieces are cut into slices whose area changes by at most a third, which are shorter than 2 m and leave something of
    the wave in a filling; each has the losses of a round duct of its mean radius: a rectangular line has somewhat more
    of them. From the far end inwards; the flow at each slice's end gives the share. A fold counts at its centre line,
    its corner is left out.
    """
    pressure = 0.0j if open_end else 1.0 + 0.0j
    flow = 1.0 + 0.0j if open_end else 0.0j
    if open_end:
        pressure = 1j * w * rho * end_length / areas_end[-1]
    share = 1.0 + 0.0j if open_end else 0.0j
    z, y = 0.0j, 0.0j
    for i in range(lengths.size - 1, -1, -1):
        r1 = math.sqrt(areas_start[i])
        r2 = math.sqrt(areas_end[i])
        decay = math.sqrt(w * resistivities[i] / (rho * c * c)) * lengths[i]  # no less than the filling's
        slices = 1 + int(2.0 * abs(math.log(r2 / r1)) / 0.3) + int(lengths[i] / 2.0 + decay / 100.0)
        step = lengths[i] / slices
        for k in range(slices - 1, -1, -1):
            s1 = (r1 + (r2 - r1) * k / slices) ** 2
            s2 = (r1 + (r2 - r1) * (k + 1) / slices) ** 2
            radius = 0.5 * (math.sqrt(s1) + math.sqrt(s2)) / math.sqrt(math.pi)
            area = math.pi * radius * radius
            if k < slices - 1 and r1 == r2:
                pass  # a straight piece: the same air in every slice
            elif resistivities[i] > 1e-6:  # less than that is none
                z, y = filled_duct(w, area, resistivities[i], rho, c, gamma, prandtl)
            else:
                z, y = round_duct(w, radius, rho, c, mu, gamma, prandtl)
            a, b, cc, d = cone_abcd(z * area, y / area, step, s1, s2)
            outgoing = flow
            pressure, flow = a * pressure + b * flow, cc * pressure + d * flow
            # only ratios matter: keep the pair at ordinary size, or a long filled line overflows
            share = share * outgoing / flow
            pressure /= flow
            flow = 1.0 + 0.0j
    return pressure, share


@_compiled
def vent_input_round(
    w: float,
    radius: float,
    length_eff: float,
    rho: float,
    c: float,
    mu: float,
    gamma: float,
    prandtl: float,
) -> tuple[complex, complex]:
    """Impedance of one round vent from the chamber to the outside, and its flow out over its flow in.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    radius : float
        Of the narrow part. [m]
    length_eff : float
        Acoustic length with both end corrections. [m]
    rho, c, mu, gamma, prandtl : float
        As for `round_duct`.

    Returns
    -------
    tuple of complex
        Impedance at the chamber end and flow ratio. [Pa·s/m³], [-]

    Notes
    -----
    The outer end is at zero pressure. End corrections count as lengths of duct, so that they carry wall loss
    too, which stands for the loss on the baffle around the mouth. For k·l ≪ 1 the impedance becomes that of
    `vent_mass` and `vent_resistance`.
    """
    z, y = round_duct(w, radius, rho, c, mu, gamma, prandtl)
    return duct_input(z, y, length_eff, 0.0j)


@_compiled
def vent_input_slot(
    w: float,
    width: float,
    height: float,
    length_eff: float,
    rho: float,
    c: float,
    mu: float,
    gamma: float,
    prandtl: float,
) -> tuple[complex, complex]:
    """Impedance of one slot vent from the chamber to the outside, and its flow out over its flow in.

    Parameters
    ----------
    w : float
        Angular frequency, > 0. [rad/s]
    width, height : float
        Of the narrow part. [m]
    length_eff : float
        Acoustic length with both end corrections. [m]
    rho, c, mu, gamma, prandtl : float
        As for `round_duct`.

    Returns
    -------
    tuple of complex
        Impedance at the chamber end and flow ratio. [Pa·s/m³], [-]

    Notes
    -----
    As `vent_input_round`.
    """
    z, y = slot_duct(w, width, height, rho, c, mu, gamma, prandtl)
    return duct_input(z, y, length_eff, 0.0j)


@_compiled
def vent_mass(rho: float, length_eff: float, area: float) -> float:
    """Acoustic mass ρ·l/S of a vent that is short against the wavelength. [kg/m⁴]."""
    return rho * length_eff / area


@_compiled
def vent_loss_factor(length_eff: float, area: float, perimeter: float, rho: float, mu: float) -> float:
    """Boundary-layer resistance of a short vent over the root of ω: ``R = factor·√ω``.

    Parameters
    ----------
    length_eff : float
        Acoustic length with both end corrections. [m]
    area, perimeter : float
        Of the narrow part. [m²], [m]
    rho, mu : float
        Density and viscosity of the air. [kg/m³], [Pa·s]

    Returns
    -------
    float
        [Pa·s^{3/2}/m³]

    Notes
    -----
    In a wide duct the lag F of `round_duct` is 1 − P/(S·√(jωρ/μ)), so z·l gains ``l·P/S²·√(jωρμ)``, whose
    real part is ``l·P/S²·√(ωρμ/2)``. The next term, 3μ/a² per metre and area, is 2 % of it at a Womersley
    number of 100 (an 80 mm tube at 30 Hz has 130). The equal imaginary part, a gain in mass of
    P/S·√(μ/(2ωρ)), is left out here.

    References
    ----------
    stinson1991
    """
    return length_eff * perimeter / (area * area) * math.sqrt(0.5 * rho * mu)


@_compiled
def vent_resistance(
    w: float, length_eff: float, area: float, perimeter: float, rho: float, mu: float
) -> float:
    """Boundary-layer resistance of a short vent, ``l·P/S²·√(ωρμ/2)``; see `vent_loss_factor`. [Pa·s/m³]."""
    return vent_loss_factor(length_eff, area, perimeter, rho, mu) * math.sqrt(w)
