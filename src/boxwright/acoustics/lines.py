"""Vents and lines of a design as two-ports over frequency."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.acoustics import ends
from boxwright.acoustics.ducts import line_input, vent_input_round, vent_input_slot
from boxwright.air import Air
from boxwright.design import DuctSegment, VentOpening

__all__ = ["closed_line_admittance", "open_line_two_port", "vent_two_port"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
Medium = tuple[float, float, float, float, float]

_compiled = njit(cache=True, error_model="numpy")


def _medium(air: Air) -> Medium:
    return air.density, air.speed_of_sound, air.viscosity, air.gamma, air.prandtl


@_compiled
def _vent(
    w: Real, is_round: bool, width: float, height: float, length: float, count: float, medium: Medium
) -> tuple[Complex, Complex]:
    rho, c, mu, gamma, prandtl = medium
    near = np.empty(w.size, np.complex128)
    across = np.empty(w.size, np.complex128)
    for i in range(w.size):
        if is_round:
            z, share = vent_input_round(w[i], 0.5 * width, length, rho, c, mu, gamma, prandtl)
        else:
            z, share = vent_input_slot(w[i], width, height, length, rho, c, mu, gamma, prandtl)
        near[i] = count / z
        across[i] = count * share / z
    return near, across


def vent_two_port(w: Real, opening: VentOpening, air: Air) -> tuple[Complex, Complex, Complex]:
    """All vents of one opening, with their losses and pipe resonances: y11, y21, y22 as in `loads.Branch`.

    Parameters
    ----------
    w : ndarray, shape (nf,)
        Angular frequency. [rad/s]

    Returns
    -------
    tuple of ndarray, shape (nf,)
        [m³/(Pa·s)]

    References
    ----------
    stinson1991
    """
    is_round = opening.shape == "round"
    width, height = (opening.diameter, 0.0) if is_round else (opening.width, opening.height)
    length = ends.vent_effective_length(opening)
    near, across = _vent(w, is_round, width, height, length, float(opening.count), _medium(air))
    return near, across, near


@_compiled
def _line(
    w: Real, pieces: tuple[Real, Real, Real, Real], is_open: bool, end_length: float, medium: Medium
) -> tuple[Complex, Complex]:
    rho, c, mu, gamma, prandtl = medium
    lengths, starts, stops, resistivities = pieces
    admittance = np.empty(w.size, np.complex128)
    across = np.empty(w.size, np.complex128)
    for i in range(w.size):
        z, share = line_input(
            w[i], lengths, starts, stops, resistivities, is_open, end_length, rho, c, mu, gamma, prandtl
        )
        admittance[i] = 1.0 / z
        across[i] = share / z
    return admittance, across


def _pieces(segments: tuple[DuctSegment, ...]) -> tuple[Real, Real, Real, Real]:
    return (
        np.array([s.length for s in segments]),
        np.array([s.area_start for s in segments]),
        np.array([s.area_end for s in segments]),
        np.array([s.flow_resistivity for s in segments]),
    )


def closed_line_admittance(w: Real, segments: tuple[DuctSegment, ...], air: Air) -> Complex:
    """Admittance that a line with a closed far end shows the cone, shape (nf,). [m³/(Pa·s)]."""
    return _line(w, _pieces(segments), False, 0.0, _medium(air))[0]


def open_line_two_port(
    w: Real, segments: tuple[DuctSegment, ...], air: Air
) -> tuple[Complex, Complex, Complex]:
    """A line whose far end opens in the box's outer face: y11, y21, y22 as in `loads.Branch`.

    Notes
    -----
    The mouth counts as flanged and round. Nothing lies behind it but the outside, so y22 takes no part and is given
    as zero.
    """
    mouth = ends.end_correction_round(math.sqrt(segments[-1].area_end / math.pi), True)
    near, across = _line(w, _pieces(segments), True, mouth, _medium(air))
    return near, across, np.zeros(w.size, np.complex128)
