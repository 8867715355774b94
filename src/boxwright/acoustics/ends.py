"""Effective length of a vent: end corrections, walls that mirror it, and rounded ends.

Every length here is an *acoustic* length: the mass of the air is ``ρ·length/area`` with the area of the
vent's narrow part. Plain Python: a length is asked for once a vent, and compiling would cost more than it saves.

Notes
-----
Equal vents on one chamber act in parallel: the impedance of one, divided by their count. That leaves out
how neighbours load each other. Two flanged ends of area S with their centres d apart each gain the length
``S/(2π·d)`` (the pressure of a point source on the baffle, averaged over the other end): an eighth of a
radius each, two diameters apart, which is 2.6 % of the mass of a vent eight radii long.

References
----------
levine1948, nomura1960, rayleigh1896
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from boxwright.acoustics.flares import flare_length, flare_surplus_round, flare_surplus_slot
from boxwright.errors import InputError

if TYPE_CHECKING:
    from boxwright.design import VentOpening

__all__ = [
    "FLANGED",
    "FREE",
    "PISTON",
    "effective_length_round",
    "effective_length_slot",
    "end_correction_full_width",
    "end_correction_round",
    "end_correction_slot",
    "piston_length_rectangle",
    "vent_area",
    "vent_effective_length",
    "vent_perimeter",
]

# Low-frequency end corrections of a round opening over its radius.
FREE = 0.6127
FLANGED = 0.8217
PISTON = 8.0 / (3.0 * math.pi)
# Of a duct over a rigid piston of the same outline; the ratio is known for the circle only.
_FLANGED_OVER_PISTON = 0.821674 / 0.848826
_FREE_OVER_PISTON = 0.6127 / 0.848826
_ROW = 3  # copies of a slot between two side walls


def end_correction_round(radius: float, flanged: bool) -> float:
    """Length that the air outside adds to one end of a round duct.

    Parameters
    ----------
    radius : float
        Of the duct, > 0. [m]
    flanged : bool
        Whether the end is flush in a large baffle; otherwise the tube ends free, with a thin wall.

    Returns
    -------
    float
        End correction. [m]

    Notes
    -----
    Flanged 0.8217·a (Nomura et al.). Free 0.6127·a: Levine and Schwinger print 0.6133·a, but their integral
    ``(1/π)·∫ ln(1/(2·I1·K1)) dx/x²`` comes out at 0.612701. Valid for k·a ≪ 1 (1 % at k·a = 0.2, from
    memory). A rigid piston in a baffle would have 8/(3π)·a, 3.3 % more than a duct.

    References
    ----------
    levine1948, nomura1960
    """
    return (FLANGED if flanged else FREE) * radius


def piston_length_rectangle(width: float, height: float) -> float:
    """Length with the self-radiation mass of a rectangular piston in a baffle.

    Parameters
    ----------
    width, height : float
        Sides of the piston, > 0. [m]

    Returns
    -------
    float
        Mass over density and area. [m]

    Notes
    -----
    A point source on a baffle gives the potential 1/(2πR), so the length is ``∬∬ dS·dS'/R / (2π·S)``. The
    difference of two points of an a·b rectangle is spread as (a−u)(b−v), which leaves
    ``4∫∫(a−u)(b−v)/√(u²+v²) = 2a²b·asinh(b/a) + 2ab²·asinh(a/b) + ⅔(a³ + b³ − d³)``, d the diagonal. The
    difference of cubes is written so that it keeps its digits for thin slots. The same integral over a circle
    is 16πa³/3 and gives 8/(3π)·a. Valid for k·d ≪ 1. Departure from source: none, own derivation.

    References
    ----------
    rayleigh1896
    """
    a = max(width, height)
    b = min(width, height)
    d = math.hypot(a, b)
    cubes = b**3 - b * b * (d * d + d * a + a * a) / (d + a)
    total = 2.0 * a * a * b * math.asinh(b / a) + 2.0 * a * b * b * math.asinh(a / b) + cubes / 1.5
    return total / (2.0 * math.pi * a * b)


def end_correction_slot(width: float, height: float, flanged: bool, walls: int) -> float:
    """Length that the air outside adds to one end of a rectangular duct.

    Parameters
    ----------
    width, height : float
        Inner size; the first wall runs along the width. [m]
    flanged : bool
        Whether the end is flush in a baffle.
    walls : int
        Sides that are continued by a wall beyond the end, 0 to 3. [-]

    Returns
    -------
    float
        End correction. [m]

    Notes
    -----
    The mass of the rectangular piston, times the ratio that a round duct has to a round piston (0.8217 :
    0.8488 flanged, 0.6127 : 0.8488 free; for a rectangle this ratio is an assumption). A wall mirrors the
    duct: one wall makes it a duct of double height, two (a corner) of double width as well; half or a
    quarter of the mirrored duct has the same length. Three walls mirror the width without end, and the mass
    of an endless row grows without bound (as 2h/π·ln of its length), because nothing else bounds the air in
    this model. The row is cut at three widths: the slot and one image at either side. The far walls of a
    real chamber take mass away again; a slot 0.3 × 0.03 m over the full width of a chamber 0.4 m high comes
    out about 30 mm too long. Where the chamber's height is known, `end_correction_full_width` is the better
    answer for three walls.

    References
    ----------
    rayleigh1896, levine1948, nomura1960
    """
    mirrored_height = 2.0 * height if walls >= 1 else height
    mirrored_width = width
    if walls == 2:
        mirrored_width = 2.0 * width
    elif walls >= 3:
        mirrored_width = _ROW * width
    ratio = _FLANGED_OVER_PISTON if flanged else _FREE_OVER_PISTON
    return ratio * piston_length_rectangle(mirrored_width, mirrored_height)


def end_correction_full_width(height: float, chamber_height: float) -> float:
    """End correction of a slot over the whole width of a chamber, along its floor.

    Parameters
    ----------
    height : float
        Of the slot. [m]
    chamber_height : float
        From that floor to the opposite wall, > height. [m]

    Returns
    -------
    float
        Length that the widening of the flow adds to the duct. [m]

    Notes
    -----
    The flow is two-dimensional. Expanded in the chamber's cross modes cos(nπy/H), a uniform flow out of the
    slot stores kinetic energy worth ``Σ 2H²·sin²(nπh/H)/(n³π³h)``; scaled from piston to duct like the other
    slots. Valid below the chamber's first cross mode. Departure from source: none, own derivation. The sum
    stops at ten times H/h terms and the mean of sin² (one half) closes it.
    """
    share = height / chamber_height
    terms = int(10.0 / share) + 10
    total = 0.0
    for n in range(1, terms + 1):
        total += math.sin(n * math.pi * share) ** 2 / n**3
    total += 0.25 / (terms + 0.5) ** 2
    return _FLANGED_OVER_PISTON * 2.0 * chamber_height**2 * total / (math.pi**3 * height)


def effective_length_round(
    length: float, radius: float, outer_flanged: bool, inner_flanged: bool, flare: float
) -> float:
    """Acoustic length of a round vent, both ends included.

    Parameters
    ----------
    length : float
        Physical, from mouth to mouth, rounded ends included, ≥ 2·flare. [m]
    radius : float
        Of the narrow part. [m]
    outer_flanged, inner_flanged : bool
        As in `end_correction_round`.
    flare : float
        Radius of the rounding at both ends; 0: plain edges. [m]

    Returns
    -------
    float
        [m]

    Notes
    -----
    A rounded end is a widening duct (`flare_length`) that ends with the correction of its own, larger mouth,
    ``0.82·(a+r)·(a/(a+r))²`` over the narrow area, and with what plane cross-sections miss
    (`flare_surplus_round`). With r → 0 this is the plain end. The correction of a free mouth is kept when it
    is rounded, although the rim then acts as a small flange. Valid for k·(a+r) ≪ 1, and below the air speed
    at which the flow leaves the wall. Flanged, it is within 0.02·a of the field around the end solved on a
    grid.
    """
    mouth = radius + flare
    ends = end_correction_round(mouth, outer_flanged) + end_correction_round(mouth, inner_flanged)
    rounding = flare_length(2.0 * radius, 2.0 * radius, 2, 2, flare) + flare_surplus_round(radius, flare)
    return length + 2.0 * (rounding - flare) + ends * (radius / mouth) ** 2


def _slot_end(width: float, height: float, flanged: bool, walls: int, flare: float) -> float:
    rounded_h = 1 if walls >= 1 else 2
    rounded_w = max(0, 2 - max(0, walls - 1))
    mouth_w = width + rounded_w * flare
    mouth_h = height + rounded_h * flare
    share = width * height / (mouth_w * mouth_h)
    half = height / rounded_h
    if rounded_w > 0:
        half = min(half, width / rounded_w)
    rounding = flare_length(width, height, rounded_w, rounded_h, flare) + flare_surplus_slot(half, flare)
    return rounding - flare + share * end_correction_slot(mouth_w, mouth_h, flanged, walls)


def effective_length_slot(
    length: float,
    width: float,
    height: float,
    outer_flanged: bool,
    inner_flanged: bool,
    walls: int,
    flare: float,
) -> float:
    """Acoustic length of a slot vent, both ends included.

    Parameters
    ----------
    length : float
        Physical, from mouth to mouth, rounded ends included, ≥ 2·flare. [m]
    width, height : float
        Of the narrow part. [m]
    outer_flanged, inner_flanged : bool
        As in `end_correction_slot`.
    walls : int
        Sides that run along walls of the chamber at the inner end; the outer end has none. [-]
    flare : float
        Radius of the rounding at both ends, on all sides but those along a wall; 0: plain edges. [m]

    Returns
    -------
    float
        [m]

    Notes
    -----
    As `effective_length_round`, with `flare_surplus_slot` over the height between rounded sides.
    """
    outer = _slot_end(width, height, outer_flanged, 0, flare)
    inner = _slot_end(width, height, inner_flanged, walls, flare)
    return length + outer + inner


def vent_effective_length(opening: VentOpening) -> float:
    """Acoustic length of one vent of an opening, both ends included.

    Parameters
    ----------
    opening : VentOpening
        The vent; its count has no part in this.

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        If a size is missing or impossible, or the rounded ends are longer than the vent.
    """
    _check(opening)
    outer, inner = (end == "flanged" for end in opening.ends)
    if opening.shape == "round":
        return float(
            effective_length_round(opening.length, opening.diameter / 2.0, outer, inner, opening.flare)
        )
    return float(
        effective_length_slot(
            opening.length, opening.width, opening.height, outer, inner, opening.walls, opening.flare
        )
    )


def vent_area(opening: VentOpening) -> float:
    """Cross-section of the narrow part of one vent. [m²]."""
    _check(opening)
    if opening.shape == "round":
        return math.pi / 4.0 * opening.diameter**2
    return opening.width * opening.height


def vent_perimeter(opening: VentOpening) -> float:
    """Wetted perimeter of the narrow part of one vent. [m]."""
    _check(opening)
    if opening.shape == "round":
        return math.pi * opening.diameter
    return 2.0 * (opening.width + opening.height)


def _check(opening: VentOpening) -> None:
    sizes = {"diameter": opening.diameter} if opening.shape == "round" else {}
    if not sizes:
        sizes = {"width": opening.width, "height": opening.height}
    for name, value in sizes.items():
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} of a {opening.shape} vent must be > 0 m, got {value:g}")
    for name, value in (("length", opening.length), ("flare", opening.flare)):
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"{name} of a vent must be ≥ 0 m, got {value:g}")
    if opening.length < 2.0 * opening.flare:
        raise InputError(
            f"length of a vent must be ≥ twice its flare ({2.0 * opening.flare:g} m), "
            f"got {opening.length:g} m",
            mend="make the vent longer or its rounding smaller",
        )
    if opening.walls not in (0, 1, 2, 3):
        raise InputError(f"walls of a vent must be 0, 1, 2 or 3, got {opening.walls}")
