"""What the compiled loops of the spread read and write: plain columns, one row or column a box."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Columns", "Curves", "Fixed"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
Whole = NDArray[np.int64]


class Fixed(NamedTuple):
    """What all boxes share.

    Attributes
    ----------
    w : ndarray, shape (nf,)
        [rad/s]
    coil : tuple
        le, k, n, l2, r2 of the equivalent driver.
    series : float
        Cable and output resistance. [Ω]
    creep : float
        [-]
    rear, front : bool
        Whether there is a chamber on that side of the cone.
    behind : ndarray of int, shape (ns,)
        1 where a set of openings is on the rear chamber, 0 on the front one.
    vent : ndarray of int, shape (ns,)
        1 for vents.
    number, area : ndarray, shape (ns,)
        Equal vents in a set, and the cross-section of one. [-], [m²]
    series_z, shunt_y : ndarray, shape (ns, nf)
        Of a vent's duct, per metre. [Pa·s/m⁴], [m²/(Pa·s)]
    gain2 : ndarray, shape (nf,)
        Squared magnitude of the filters. [-]
    transfer2, plain2 : ndarray, shape (nf,)
        Squared pressure per volume velocity at the listener, and in plain space. [Pa²·s²/m⁶]
    far2 : float
        Squared pressure per squared acceleration × area far above resonance; 0: the cone does not face outside.
    voltage2, current2 : float
        Squared limits of the amplifier, rms; inf: none. [V²], [A²]
    """

    w: Real
    coil: tuple[float, float, float, float, float]
    series: float
    creep: float
    rear: bool
    front: bool
    behind: Whole
    vent: Whole
    number: Real
    area: Real
    series_z: Complex
    shunt_y: Complex
    gain2: Real
    transfer2: Real
    plain2: Real
    far2: float
    voltage2: float
    current2: float


class Columns(NamedTuple):
    """What differs from box to box; shape (n,), of openings (ns, n).

    Of the equivalent driver ``coil`` is the factor on its inductive impedance, ``travel`` the linear travel left after
    sag (inf: not stated), ``power2`` the squared current of the rated power (inf: none). ``cab`` [m³/Pa], ``leak``
    [m³/(Pa·s)] and ``absorption`` [Pa·s/m³] of both chambers. ``mass``, ``resistance``, ``stiffness`` of a set of
    passives together; ``length`` of one vent with its ends; ``allowed`` the peak volume a set of passives may move
    [m³] or the peak volume velocity of a set of vents [m³/s].
    """

    re: Real
    bl: Real
    mms: Real
    cms: Real
    rms: Real
    sd: Real
    coil: Real
    travel: Real
    power2: Real
    rear_cab: Real
    rear_leak: Real
    rear_absorption: Real
    front_cab: Real
    front_leak: Real
    front_absorption: Real
    mass: Real
    resistance: Real
    stiffness: Real
    length: Real
    allowed: Real


class Curves(NamedTuple):
    """What is computed; squared, per volt rms at the source; shape (nf, n), of openings (ns, nf, n).

    flow2: volume velocity into the outside [(m³/s)²/V²], velocity2 of the cone [(m/s)²/V²], current2 [A²/V²],
    impedance2 [Ω²], opening2: the larger of the volume velocities at both ends [(m³/s)²/V²], clean2: the largest
    squared pressure at the listener that breaks no limit, rms [Pa²].
    """

    flow2: Real
    velocity2: Real
    current2: Real
    impedance2: Real
    opening2: Real
    clean2: Real
