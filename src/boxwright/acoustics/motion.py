"""Everything that moves in a design, for one volt at the amplifier's terminals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.acoustics.elements import coil_impedance, cone_velocity, driver_impedance
from boxwright.acoustics.loads import branches_of, nodes_of, two_loads
from boxwright.acoustics.network import nodal_pressures
from boxwright.design import Design
from boxwright.parts.driver import Driver

__all__ = ["Motion", "solve"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

_compiled = njit(cache=True, error_model="numpy")


@_compiled
def _driver_rows(
    w: Real,
    re: float,
    coil: tuple[float, float, float, float, float],
    mms: float,
    rms: float,
    cms: float,
    creep: float,
) -> tuple[Complex, Complex]:
    electrical = np.empty(w.size, np.complex128)
    mechanical = np.empty(w.size, np.complex128)
    ws = 1.0 / math.sqrt(mms * cms)
    for i in range(w.size):
        electrical[i] = re + coil_impedance(w[i], coil[0], coil[1], coil[2], coil[3], coil[4])
        mechanical[i] = driver_impedance(w[i], mms, rms, cms, creep, ws)
    return electrical, mechanical


@_compiled
def _velocity(electrical: Complex, bl: float, mechanical: Complex) -> Complex:
    out = np.empty(electrical.size, np.complex128)
    for i in range(electrical.size):
        out[i] = cone_velocity(electrical[i], bl, mechanical[i])
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Everything that moves, for one volt rms at the amplifier's terminals, over frequency.

    Attributes
    ----------
    velocity : ndarray, shape (nf,)
        Of the cone, rms. [m/(s·V)]
    current : ndarray, shape (nf,)
        Through the whole arrangement, rms. [A/V]
    impedance : ndarray, shape (nf,)
        At the terminals of the box, without cable and output resistance. [Ω]
    outside : ndarray, shape (nf,)
        Volume velocity into the outside world, rms. [m³/(s·V)]
    inner, outer : tuple of ndarray, shape (nf,)
        Volume velocity at both ends of each set of openings, rms. [m³/(s·V)]
    pressures : dict of str to ndarray, shape (nf,)
        In each chamber, rms. [Pa/V]
    """

    velocity: Complex
    current: Complex
    impedance: Complex
    outside: Complex
    inner: tuple[Complex, ...]
    outer: tuple[Complex, ...]
    pressures: dict[str, Complex]

    def first(self, count: int) -> Motion:
        """The same at the first ``count`` frequencies."""
        return Motion(
            velocity=self.velocity[:count],
            current=self.current[:count],
            impedance=self.impedance[:count],
            outside=self.outside[:count],
            inner=tuple(u[:count] for u in self.inner),
            outer=tuple(u[:count] for u in self.outer),
            pressures={name: p[:count] for name, p in self.pressures.items()},
        )


def solve(design: Design, driver: Driver, frequency: Real) -> Motion:
    """Everything that moves, for one volt at the amplifier's terminals.

    Parameters
    ----------
    driver : Driver
        The equivalent driver of the design's arrangement.
    frequency : ndarray, shape (nf,)
        [Hz]
    """
    w = 2.0 * np.pi * np.ascontiguousarray(frequency, dtype=np.float64)
    nodes = nodes_of(design, driver, w)
    branches = branches_of(design, w)
    coupled = any(b.to != "outside" for b in branches)
    if not nodes:
        unit: dict[str, Complex] = {}
    elif coupled:
        unit = nodal_pressures(nodes, branches, driver.sd)
    else:
        unit = two_loads(nodes, branches, driver.sd)

    coil = driver.coil
    resistance = driver.re + design.source.series_resistance
    electrical, mechanical = _driver_rows(
        w,
        resistance,
        (coil.le, coil.k, coil.n, coil.l2, coil.r2),
        driver.mms,
        driver.rms,
        driver.cms,
        driver.creep,
    )
    zero = np.zeros(w.size, np.complex128)
    mechanical = mechanical + driver.sd * (unit.get("front", zero) - unit.get("rear", zero))
    velocity = _velocity(electrical, driver.bl, mechanical)
    current = velocity * mechanical / driver.bl

    pressures = {name: p * velocity for name, p in unit.items()}
    outside = zero.copy()
    if design.front is None:
        outside += driver.sd * velocity
    if design.rear is None:
        outside -= driver.sd * velocity
    for node in nodes:
        outside += node.leak * pressures[node.name]
    inner, outer = [], []
    for branch in branches:
        near = pressures[branch.chamber]
        far = zero if branch.to == "outside" else pressures[branch.to]
        first, second = branch.y11 * near - branch.y21 * far, branch.y21 * near - branch.y22 * far
        if branch.to == "outside":
            outside += second
        if branch.opening >= 0:
            inner.append(first)
            outer.append(second)
    return Motion(
        velocity=velocity,
        current=current,
        impedance=electrical + driver.bl**2 / mechanical - design.source.series_resistance,
        outside=outside,
        inner=tuple(inner),
        outer=tuple(outer),
        pressures=pressures,
    )
