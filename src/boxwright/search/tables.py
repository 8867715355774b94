"""The search's view of the parts: plain columns, one row for each choice of driver or opening."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["Bounds", "DriverRow", "Grid", "OpeningRow", "Signal", "driver_row", "opening_row"]

Real = NDArray[np.float64]
Matrix = NDArray[np.float64]


class DriverRow(NamedTuple):
    """An equivalent driver (model, count and wiring); one row of the driver table.

    ``re`` holds cable and output resistance too; ``travel`` is the linear travel left after sag (inf: not stated);
    ``current2`` the square of the current, rms, that the rated power allows; price, weight and displacement are those
    of all drivers of the row. SI units.
    """

    re: float
    bl: float
    mms: float
    cms: float
    rms: float
    sd: float
    le: float
    k: float
    n: float
    l2: float
    r2: float
    creep: float
    travel: float
    current2: float
    price: float
    weight: float
    displacement: float


class OpeningRow(NamedTuple):
    """A set of equal passives or vents; one row of the opening table.

    ``is_vent`` is 1 for vents, 0 for passives; ``number`` is how many equal ones a set holds.

    For a passive ``area`` is sp and ``mass``, ``compliance``, ``resistance`` are one passive's own; ``travel`` is
    before sag, ``sag_per_kg`` what a kilogram of moving mass takes off it. For a vent ``area`` is its cross-section,
    ``ends`` the sum of both end corrections, ``loss`` the boundary-layer resistance of one metre of it over √ω,
    ``bore`` its volume inside the box per metre with its walls. Price, weight and displacement are those of the whole
    set; the ``_per_metre`` ones as well. SI units.
    """

    is_vent: float
    number: float
    area: float
    mass: float
    compliance: float
    resistance: float
    travel: float
    sag_per_kg: float
    added_max: float
    ends: float
    loss: float
    speed: float
    shortest: float
    bore: float
    price: float
    price_per_metre: float
    weight: float
    weight_per_metre: float
    displacement: float


@njit(cache=True, nogil=True)
def driver_row(table: Matrix, i: int) -> DriverRow:
    """Row i of a table, shape (n, 17), as plain numbers, which a compiled loop passes on for free."""
    return DriverRow(
        table[i, 0],
        table[i, 1],
        table[i, 2],
        table[i, 3],
        table[i, 4],
        table[i, 5],
        table[i, 6],
        table[i, 7],
        table[i, 8],
        table[i, 9],
        table[i, 10],
        table[i, 11],
        table[i, 12],
        table[i, 13],
        table[i, 14],
        table[i, 15],
        table[i, 16],
    )


@njit(cache=True, nogil=True)
def opening_row(table: Matrix, i: int) -> OpeningRow:
    """Row i of a table, shape (n, 19), as plain numbers, which a compiled loop passes on for free."""
    return OpeningRow(
        table[i, 0],
        table[i, 1],
        table[i, 2],
        table[i, 3],
        table[i, 4],
        table[i, 5],
        table[i, 6],
        table[i, 7],
        table[i, 8],
        table[i, 9],
        table[i, 10],
        table[i, 11],
        table[i, 12],
        table[i, 13],
        table[i, 14],
        table[i, 15],
        table[i, 16],
        table[i, 17],
        table[i, 18],
    )


class Grid(NamedTuple):
    """What is tried for each pair of driver and opening.

    Attributes
    ----------
    inside : ndarray, shape (nv,)
        Volume within the walls. [m³]
    tuning : ndarray, shape (nt,)
        [Hz]
    share : ndarray, shape (ns,)
        Of the volume that lies behind the cone; 1 for everything but bandpass boxes. [-]
    wood_weight, wood_price : ndarray, shape (nv,)
        Of the box. [kg], [currency]
    room : ndarray, shape (nv, nd, no)
        Longest vent that the box takes, by rows of the driver and the opening table; empty for passives. [m]
    """

    inside: Real
    tuning: Real
    share: Real
    wood_weight: Real
    wood_price: Real
    room: Real


class Signal(NamedTuple):
    """Frequencies, transfer and filters, the same for every candidate.

    Attributes
    ----------
    w : ndarray, shape (nf,)
        The first ``below`` are under the reach, then the band from reach to top, from ``top`` on a few above it, where
        only the passband's level is looked for. [rad/s]
    below : int
        How many lie under the reach. [-]
    top : int
        Index one past the band. [-]
    content : int
        Of these, the first that the programme contains. [-]
    transfer2 : ndarray, shape (nf,)
        Squared magnitude of pressure per volume velocity at the listener. [Pa²·s²/m⁶]
    asymptote2 : float
        Squared pressure per squared cone acceleration × area, in the plain space. [kg²/m²]
    gain2 : ndarray, shape (nh, nf)
        Squared magnitude of the filters for each protective high-pass, the mildest first. [-]
    delay : ndarray, shape (nh, nf - 1)
        Group delay of the same between neighbouring frequencies. [s]
    plain2 : ndarray, shape (nf,)
        As transfer2, in the plain space that reach is read in. [Pa²·s²/m⁶]
    """

    w: Real
    below: int
    top: int
    content: int
    transfer2: Real
    asymptote2: float
    gain2: Real
    delay: Real
    plain2: Real


class Bounds(NamedTuple):
    """What a candidate has to keep.

    Attributes
    ----------
    pressure2 : float
        Squared sound pressure wanted, rms. [Pa²]
    voltage2, current2 : float
        Squared limits of the amplifier, rms; inf: none. [V²], [A²]
    budget, weight : float
        inf: none. [currency], [kg]
    net : float
        Most air inside; inf: what the space holds. [m³]
    q_leak : float
        Leakage Q of every chamber. [-]
    bulk, density, speed_of_sound : float
        Of air. [Pa], [kg/m³], [m/s]
    """

    pressure2: float
    voltage2: float
    current2: float
    budget: float
    weight: float
    net: float
    q_leak: float
    bulk: float
    density: float
    speed_of_sound: float
