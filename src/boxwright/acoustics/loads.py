"""What the cone pushes against: nodes (chambers), branches (openings), and the pressures they give.

Every family is a rear load and a front load on the cone; a load is a chamber with openings in parallel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.acoustics import ends, lines
from boxwright.acoustics.elements import chamber_admittance, mass_spring_impedance, reciprocal
from boxwright.acoustics.tuning import closed_resonance, effective_volume, resonance_of
from boxwright.air import Air
from boxwright.design import Chamber, Design, Opening, PassiveOpening
from boxwright.parts.driver import Driver

__all__ = [
    "Branch",
    "Lumped",
    "Node",
    "branches_of",
    "chamber_losses",
    "chamber_resonance",
    "lumped",
    "nodes_of",
    "two_loads",
]

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_compiled = njit(cache=True, error_model="numpy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lumped:
    """Acoustic mass, resistance and stiffness of one set of equal openings, in parallel.

    Attributes
    ----------
    mass : float
        [kg/m⁴]
    resistance : float
        [Pa·s/m³]
    stiffness : float
        [Pa/m³]
    """

    mass: float
    resistance: float
    stiffness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One chamber: the admittance of its air and its leak, over frequency.

    Attributes
    ----------
    air : ndarray, shape (nf,)
        [m³/(Pa·s)]
    leak : float
        Conductance to the outside. [m³/(Pa·s)]
    """

    name: str
    air: Complex
    leak: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """One set of openings as a two-port: ``U1 = y11·p1 − y21·p2``, ``U2 = y21·p1 − y22·p2``.

    Attributes
    ----------
    opening : int
        Index in the design; −1: the open end of a line.
    chamber, to : str
        Where it begins and ends.
    y11, y21, y22 : ndarray, shape (nf,)
        [m³/(Pa·s)]
    """

    opening: int
    chamber: str
    to: str
    y11: Complex
    y21: Complex
    y22: Complex


@_compiled
def _chamber(w: Real, cab: float, r_absorption: float) -> Complex:
    out = np.empty(w.size, np.complex128)
    for i in range(w.size):
        out[i] = chamber_admittance(w[i], cab, r_absorption)
    return out


@_compiled
def _mass_spring(w: Real, mass: float, resistance: float, stiffness: float) -> Complex:
    out = np.empty(w.size, np.complex128)
    for i in range(w.size):
        out[i] = reciprocal(mass_spring_impedance(w[i], mass, resistance, 0.0, stiffness))
    return out


def lumped(opening: Opening, air: Air) -> Lumped:
    """One set of openings as mass, resistance and stiffness; a vent without its losses."""
    if isinstance(opening, PassiveOpening):
        part = opening.passive
        scale = 1.0 / (opening.count * part.sp**2)
        return Lumped(
            mass=(part.mmp + opening.added_mass) * scale,
            resistance=part.rmp * scale,
            stiffness=scale / part.cmp,
        )
    length = ends.vent_effective_length(opening)
    area = ends.vent_area(opening) * opening.count
    return Lumped(mass=air.density * length / area, resistance=0.0, stiffness=0.0)


def chamber_resonance(design: Design, chamber: Chamber, driver: Driver) -> float:
    """Frequency at which a chamber's leakage and absorption Q are stated. [Hz].

    Its tuning where it has openings (driver blocked, what lies behind an opening taken as the outside), otherwise the
    resonance of the cone on it.
    """
    cab = effective_volume(chamber.volume, chamber.fill) / design.air.bulk_modulus
    sets = [lumped(o, design.air) for o in design.openings if chamber.name in (o.chamber, o.to)]
    if sets:
        return resonance_of(cab, [s.mass for s in sets], [s.stiffness for s in sets])
    return closed_resonance(driver.cms, driver.mms, driver.sd, cab)


def chamber_losses(design: Design, chamber: Chamber, driver: Driver) -> tuple[float, float, float]:
    """Compliance, leak conductance and absorption resistance of a chamber. [m³/Pa], [m³/(Pa·s)], [Pa·s/m³]."""
    cab = effective_volume(chamber.volume, chamber.fill) / design.air.bulk_modulus
    if chamber.q_leak is None and chamber.q_absorption is None:
        return cab, 0.0, 0.0
    wc = 2.0 * np.pi * chamber_resonance(design, chamber, driver) * cab
    leak = wc / chamber.q_leak if chamber.q_leak else 0.0
    absorption = 1.0 / (chamber.q_absorption * wc) if chamber.q_absorption else 0.0
    return cab, leak, absorption


def named_chambers(design: Design) -> tuple[Chamber, ...]:
    """All chambers of a design, the rear one first, each under the name that openings use."""
    from dataclasses import replace

    found = []
    if design.rear is not None:
        found.append(replace(design.rear, name="rear"))
    if design.front is not None:
        found.append(replace(design.front, name="front"))
    return (*found, *design.chambers)


def nodes_of(design: Design, driver: Driver, w: Real) -> tuple[Node, ...]:
    """The chambers of a design as nodes.

    Parameters
    ----------
    driver : Driver
        The equivalent driver.
    w : ndarray, shape (nf,)
        Angular frequency. [rad/s]
    """
    nodes = []
    for chamber in named_chambers(design):
        cab, leak, absorption = chamber_losses(design, chamber, driver)
        if not chamber.segments:
            air = _chamber(w, cab, absorption)
        elif chamber.line_end == "closed":
            air = lines.closed_line_admittance(w, chamber.segments, design.air)
        else:  # an open line is a branch to the outside; no air is left over
            air = np.zeros(w.size, np.complex128)
        nodes.append(Node(name=chamber.name, air=air, leak=leak))
    return tuple(nodes)


def branches_of(design: Design, w: Real) -> tuple[Branch, ...]:
    """The openings of a design (and open line ends) as two-ports.

    Parameters
    ----------
    w : ndarray, shape (nf,)
        Angular frequency. [rad/s]
    """
    found = []
    for index, opening in enumerate(design.openings):
        if isinstance(opening, PassiveOpening):
            part = lumped(opening, design.air)
            y = _mass_spring(w, part.mass, part.resistance, part.stiffness)
            y11, y21, y22 = y, y, y
        else:
            y11, y21, y22 = lines.vent_two_port(w, opening, design.air)
        found.append(Branch(opening=index, chamber=opening.chamber, to=opening.to, y11=y11, y21=y21, y22=y22))
    for chamber in named_chambers(design):
        if chamber.segments and chamber.line_end == "open":
            y11, y21, y22 = lines.open_line_two_port(w, chamber.segments, design.air)
            found.append(Branch(opening=-1, chamber=chamber.name, to="outside", y11=y11, y21=y21, y22=y22))
    return tuple(found)


def two_loads(nodes: tuple[Node, ...], branches: tuple[Branch, ...], sd: float) -> dict[str, Complex]:
    """Pressure in each chamber for a cone velocity of 1 m/s outward. [Pa·s/m].

    Valid where no opening joins two chambers: the rear chamber takes −sd, the front one +sd, each over its own
    admittance.

    Parameters
    ----------
    sd : float
        Cone area of the equivalent driver. [m²]

    Returns
    -------
    dict of str to ndarray, shape (nf,)
    """
    pressure = {}
    for node in nodes:
        total = node.air + node.leak
        for branch in branches:
            if branch.chamber == node.name:
                total = total + branch.y11
        flow = {"rear": -sd, "front": sd}.get(node.name, 0.0)
        pressure[node.name] = flow / total
    return pressure
