# mypy: allow-untyped-defs, allow-untyped-calls
"""How long a vent can be inside a box: straight, folded with one or two bends, or as a slot along a wall.

Lengths run along the centre line from the panel's outer face to the inner end. Behind the inner end stays free air: one
inner diameter (a slot: its height) unless told otherwise, half of it at the least; common practice, no source.

The driver is in the way as a square block, its cutout wide and as deep as its motor, in the middle of its face. The
vent has to stay wholly behind the block or wholly beside it; the least over the faces that can carry the driver
counts. That is on the safe side: a driver off the middle leaves one wider strip, a bent vent could pass from one
strip to another. Several vents are not kept apart here: the layout does that for straight ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numba import njit

from boxwright.brief import FACES, Space
from boxwright.errors import InputError
from boxwright.workshop.layout_geometry import free_depth
from boxwright.workshop.prism import Prism, prism_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from boxwright.design import BoxPlan
    from boxwright.parts import VentStock
    from boxwright.workshop.items import Item

__all__ = ["BEND_RADIUS", "VentRoom", "inscribed_box", "longest_of_each", "vent_room", "vent_room_in"]

BEND_RADIUS = 1.0
"""Centre-line radius of a bend over the inner diameter: a short elbow. Common practice, no source. [-]"""
LEAST_END = 0.5


@njit(cache=True, nogil=True, error_model="numpy")
def _free_box(dims, touched, wall, bore, tube, slot_width, slot_height, panel, end, out):
    """Longest vents in one empty block; ``touched``: sides of it that are faces allowed for vents, as bits."""
    gap, radius = end * bore, BEND_RADIUS * bore
    saved = (2.0 - 0.5 * math.pi) * radius  # what rounding one corner takes off the centre line
    for i in range(3):
        # Axis 0 width: left, right (bits 2, 3); 1 height: top, bottom (4, 5); 2 depth: front, back (0, 1).
        bits = 12 if i == 0 else 48 if i == 1 else 3
        if touched & bits == 0:
            continue
        first = wall + dims[i] - 0.5 * tube
        for turn in range(2):
            j, k = (i + 1 + turn) % 3, (i + 2 - turn) % 3
            if tube > 0.0 and min(dims[j], dims[k]) >= tube:
                out[0] = max(out[0], wall + dims[i] - gap)
                second = dims[j] - 0.5 * tube - gap
                if first >= radius and second >= radius and dims[i] >= tube:
                    out[1] = max(out[1], first + second - saved)
                across = dims[j] - tube
                if first >= radius and across >= 2.0 * radius and dims[i] >= tube:
                    for m in (i, k):
                        third = dims[m] - 0.5 * tube - gap
                        if third >= radius:
                            out[1] = max(out[1], first + across + third - 2.0 * saved)
            if slot_height > 0.0 and dims[k] >= slot_width and dims[j] >= slot_height + panel:
                clear = end * slot_height
                out[2] = max(out[2], wall + dims[i] - clear)
                leg = dims[j] - 0.5 * slot_height - clear
                if leg >= 0.5 * slot_height + panel and dims[i] >= 2.0 * (slot_height + panel):
                    out[2] = max(out[2], wall + dims[i] - 0.5 * slot_height + leg)


@njit(cache=True, nogil=True, error_model="numpy")
def vent_room(
    width, height, depth, wall, touched, bore, tube, slot_width, slot_height, panel, end, motor_sides, motor_width,
    motor_depth,
):  # fmt: skip
    """Longest vent of each kind in a rectangular inside.

    Parameters
    ----------
    width, height, depth : float
        Inner sizes. [m]
    wall : float
        Thickness of the panel the vent starts in. [m]
    touched : int
        Faces allowed for vents, as bits in the order of FACES.
    bore, tube : float
        Inner and outer diameter of a round vent; 0: none. [m]
    slot_width, slot_height, panel : float
        Inner section of a slot and the thickness of its own panel; 0: none. [m]
    end : float
        Free air behind the inner end, in inner diameters or slot heights, >= 0.5. [-]
    motor_sides : int
        Faces that may carry the driver, as bits; 0: no driver in the way.
    motor_width, motor_depth : float
        Block that it takes behind the panel's inner face. [m]

    Returns
    -------
    tuple of float
        Straight, folded (one or two bends), slot (at most one turn); 0 where there is no way at all. [m]
    """
    # (element by element, and one call of _free_box: whole-array assignments and calls take seconds to compile)
    dims, block, found, least = np.empty(3), np.empty(3), np.empty(3), np.zeros(3)
    dims[0], dims[1], dims[2] = width, height, depth
    blocked = False
    for side in range(7):  # the last: nothing in the way
        axis = 2 if side < 2 else 0 if side < 4 else 1
        p, q = (axis + 1) % 3, (axis + 2) % 3
        if side == 6:
            if blocked:
                break
        elif (
            (motor_sides >> side) & 1 == 0 or min(dims[p], dims[q]) < motor_width or dims[axis] < motor_depth
        ):
            continue
        for i in range(3):
            found[i] = 0.0
        for strip in range(5 if side < 6 else 1):  # behind the motor, then the four beside it
            for i in range(3):
                block[i] = dims[i]
            faces = touched
            if strip > 0:
                b = p if strip < 3 else q
                block[b] = 0.5 * (dims[b] - motor_width)
                faces &= ~(1 << ((0 if b == 2 else 2 if b == 0 else 4) + (strip - 1) % 2))
            elif side < 6:
                block[axis] = dims[axis] - motor_depth
                faces &= ~(1 << side)
            _free_box(block, faces, wall, bore, tube, slot_width, slot_height, panel, end, found)
        for i in range(3):
            least[i] = min(least[i], found[i]) if blocked else found[i]
        blocked = True
    return least[0], least[1], least[2]


@njit(cache=True, nogil=True, error_model="numpy")
def longest_of_each(sizes, touched, motors, sections, out):
    """Raise ``out`` to the longest vent of each section beside each motor, in one rectangular inside.

    Parameters
    ----------
    sizes : tuple of float
        Inner width, height and depth, and the wall. [m]
    touched : int
        Faces allowed for vents, as bits.
    motors : ndarray, shape (drivers, 3)
        Faces as bits, width and depth of the block each driver takes.
    sections : ndarray, shape (vents, 7)
        Bore, tube, slot width, slot height, panel, whether it may be folded, longest piece.
    out : ndarray, shape (drivers, vents)
        [m]
    """
    for m in range(motors.shape[0]):
        for s in range(sections.shape[0]):
            straight, folded, slot = vent_room(
                sizes[0], sizes[1], sizes[2], sizes[3], touched, sections[s, 0], sections[s, 1], sections[s, 2],
                sections[s, 3], sections[s, 4], 1.0, int(motors[m, 0]), motors[m, 1], motors[m, 2],
            )  # fmt: skip
            longest = max(straight, slot, folded * sections[s, 5])
            out[m, s] = max(out[m, s], min(longest, sections[s, 6]))


def inscribed_box(prism: Prism) -> tuple[float, float, int]:
    """Height and depth of a large rectangle inside a prism's polygon, and the sides where it lies along a face.

    Found on a grid of 48 depths, so it may be a little smaller than the largest; exact for a box. [m]
    """
    polygon = prism.polygon
    if prism.is_box:
        size = polygon.max(axis=0) - polygon.min(axis=0)
        return float(size[1]), float(size[0]), 63
    return _inscribed(
        polygon.tobytes(), prism.table.tobytes()
    )  # a search asks for the same polygon many times


@lru_cache(maxsize=64)
def _inscribed(corners: bytes, faces: bytes) -> tuple[float, float, int]:
    polygon, table = np.frombuffer(corners).reshape(-1, 2), np.frombuffer(faces).reshape(-1, 9)
    zs = np.unique(np.concatenate([np.linspace(polygon[:, 0].min(), polygon[:, 0].max(), 49), polygon[:, 0]]))
    best, answer = 0.0, (0.0, 0.0, 0.0, 0.0)
    for a in range(len(zs)):
        for b in range(a + 1, len(zs)):
            low, high = _clear_height(polygon, float(zs[a]), float(zs[b]))
            area = (high - low) * float(zs[b] - zs[a])
            if area > best * (1.0 + 1e-12):
                best, answer = area, (float(zs[a]), float(zs[b]), low, high)
    z0, z1, y0, y1 = answer
    mask = 12  # left and right always
    for k in range(len(polygon)):
        side, oz, oy, dz, dy = (float(c) for c in table[k, :5])
        upright = abs(dz) < 1e-9
        at = oz if upright else oy
        edge = {0.0: z0, 1.0: z1, 4.0: y1, 5.0: y0}[side]
        if (upright == (side < 2.0)) and (upright or abs(dy) < 1e-9) and abs(at - edge) < 1e-9:
            mask |= 1 << int(side)
    return float(y1 - y0), float(z1 - z0), mask


def _clear_height(polygon: NDArray[np.float64], z0: float, z1: float) -> tuple[float, float]:
    """Largest height interval inside the polygon that stays clear over the whole depth interval."""
    blocked = []
    middle = 0.5 * (z0 + z1)
    crossings = []
    for (az, ay), (bz, by) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if max(az, bz) <= z0 + 1e-12 or min(az, bz) >= z1 - 1e-12:
            continue
        if abs(bz - az) < 1e-12:  # an upright side within the slab
            blocked.append((min(ay, by), max(ay, by)))
            continue
        ends = [ay + (min(max(z, z0), z1) - az) / (bz - az) * (by - ay) for z in (az, bz)]
        blocked.append((min(ends), max(ends)))
        if (az > middle) != (bz > middle):
            crossings.append(ay + (middle - az) / (bz - az) * (by - ay))
    blocked.sort()
    best = (0.0, 0.0)
    top = -math.inf
    for low, high in blocked:
        if top > -math.inf and low - top > best[1] - best[0]:
            inside = sum(y < 0.5 * (low + top) for y in crossings) % 2 == 1
            best = (top, low) if inside else best
        top = max(top, high)
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class VentRoom:
    """Longest vent of a stock in a box.

    Attributes
    ----------
    straight, folded, slot : float
        0 where there is no way, or the stock is not of that kind. [m]
    """

    straight: float
    folded: float
    slot: float

    @property
    def longest(self) -> float:
        """Of all ways. [m]."""
        return max(self.straight, self.folded, self.slot)


def vent_room_in(
    thing: BoxPlan | Space,
    stock: VentStock,
    *,
    wall: float | None = None,
    vent_faces: tuple[str, ...] = FACES,
    driver: Item | None = None,
    end: float = 1.0,
) -> VentRoom:
    """Longest vent of this stock in a box, straight, folded and as a slot.

    Parameters
    ----------
    thing : BoxPlan or Space
        Of shape box, wedge or profile; in the last two a bent vent and a slot keep to the largest rectangular block.
    stock : VentStock
        Folded only when it has a bend price; a slot without a width is as wide as the box inside.
    wall : float, optional
        Thickness of the sheet; a plan has its own. [m]
    vent_faces : tuple of str
        Faces allowed for vents.
    driver : Item, optional
        What is in the way, on any of its faces.
    end : float
        Free air behind the inner end, in inner diameters or slot heights, >= 0.5. [-]

    Returns
    -------
    VentRoom
        What the stock is sold in (``max_length``) is not looked at.

    Raises
    ------
    InputError
        If the stock's section is not positive or ``end`` below one half.
    DoesNotFit
        If the walls leave nothing inside.
    """
    if not math.isfinite(end) or end < LEAST_END:
        raise InputError(f"end must be >= {LEAST_END:g} inner diameters, got {end:g}")
    prism = prism_of(thing, wall)
    height, depth, mask = inscribed_box(prism)
    bore = (stock.diameter or 0.0) if stock.shape == "round" else 0.0
    slot_height = (stock.height or 0.0) if stock.shape == "slot" else 0.0
    slot_width = min(stock.width or prism.width, prism.width) if slot_height > 0.0 else 0.0
    if stock.width is not None and stock.shape == "slot":
        slot_width = stock.width
    if max(bore, slot_height) <= 0.0 or slot_width < 0.0:
        raise InputError(
            f"vent must have a diameter, or a height for a slot, > 0 m, got {stock.diameter!r}, {stock.height!r}"
        )
    tube = bore + 2.0 * stock.wall if bore > 0.0 else 0.0
    sides = sum(1 << FACES.index(face) for face in set(vent_faces))
    blocks = (0, 0.0, 0.0)
    if driver is not None:
        carrying = sum(1 << FACES.index(face) for face in set(driver.faces))
        deep = max(driver.depth + driver.clearance, driver.shoulder_depth) - prism.wall
        blocks = (carrying, driver.cutout_diameter, max(0.0, deep))
    straight, folded, slot = vent_room(
        prism.width, height, depth, prism.wall, sides & mask, bore, tube, slot_width, slot_height, stock.wall, end,
        *blocks,
    )  # fmt: skip
    if driver is None and bore > 0.0:
        straight = max(straight, _straight(prism, sides, tube, end * bore))
    return VentRoom(
        straight=float(straight),
        folded=float(folded) if stock.bend_price is not None else 0.0,
        slot=float(slot),
    )


def _straight(prism: Prism, sides: int, tube: float, gap: float) -> float:
    """Longest straight tube along the normal of any face allowed, sloped ones included. [m]."""
    best = 0.0
    for k, row in enumerate(prism.table[:-2]):
        low, high = row[7] + 0.5 * tube, row[8] - 0.5 * tube
        if (sides >> int(row[0])) & 1 and high >= low and prism.width >= tube:
            for u in np.linspace(low, high, 25):
                best = max(best, free_depth(prism.polygon, prism.table, k, u, 0.5 * tube) - gap + prism.wall)
    return best
