"""The inside of a box as the compiled layout sees it: a polygon, a table of faces, a width.

Face coordinates: for a face along the width (front, back, top, bottom), u runs along its side of the inner polygon
and v along the width, both from the inner corner; for left and right, u is the depth and v the height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from boxwright.brief import FACES
from boxwright.errors import DoesNotFit
from boxwright.workshop.shape import Point, inner_profile, outer_profile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from boxwright.brief import Space
    from boxwright.design import BoxPlan

__all__ = ["Face", "Prism", "faces", "prism_of", "side_of"]

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One face of the box.

    Attributes
    ----------
    name : str
        Its side, numbered from the second of the same side on: back, back 2, …
    side : str
        Of FACES: the axis direction nearest to its outward normal (a wedge's sloped face is its back).
    usable : tuple of (float, float)
        Corners (u, v) of the part that has the inside behind it and the outside before it. [m]
    origin : tuple of float
        Of the face's frame, on the inner surface: x, y, z. [m]
    axis_u, axis_v, inward : tuple of float
        Unit vectors (x, y, z).
    """

    name: str
    side: str
    usable: tuple[Point, ...]
    origin: Vector
    axis_u: Vector
    axis_v: Vector
    inward: Vector

    def point(self, u: float, v: float, depth: float = 0.0) -> Vector:
        """Where (u, v) lies in space, ``depth`` metres behind the inner surface. [m]."""
        return (
            self.origin[0] + u * self.axis_u[0] + v * self.axis_v[0] + depth * self.inward[0],
            self.origin[1] + u * self.axis_u[1] + v * self.axis_v[1] + depth * self.inward[1],
            self.origin[2] + u * self.axis_u[2] + v * self.axis_v[2] + depth * self.inward[2],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prism:
    """A box for the compiled layout.

    Attributes
    ----------
    polygon : ndarray
        Inner corners (depth, height), counter-clockwise, shape (n, 2). [m]
    table : ndarray
        One row a face, shape (n + 2, 9): side code, origin z and y, direction z and y, inward normal z and y, usable
        u from and to. The last two rows are left and right.
    names : tuple of str
        Of the faces.
    width : float
        Between the inner walls. [m]
    wall : float
        [m]
    is_box : bool
        All six faces are rectangles.
    """

    polygon: NDArray[np.float64]
    table: NDArray[np.float64]
    names: tuple[str, ...]
    width: float
    wall: float
    is_box: bool


def side_of(outward_z: float, outward_y: float) -> str:
    """The side nearest to an outward normal in the depth-height plane; at 45° front and back win."""
    if abs(outward_z) >= abs(outward_y) - 1e-9:
        return "back" if outward_z > 0.0 else "front"
    return "top" if outward_y > 0.0 else "bottom"


def _usable(
    start: Point, direction: Point, inward: Point, length: float, a: Point, b: Point, wall: float
) -> Point | None:
    """Stretch of an inner edge that an outer edge a-b covers, if b-a runs one wall outside it."""
    dz, dy = b[0] - a[0], b[1] - a[1]
    reach = math.hypot(dz, dy)
    if (
        abs(direction[0] * dy - direction[1] * dz) > 1e-7 * reach
        or direction[0] * dz + direction[1] * dy < 0.0
    ):
        return None
    offset = (a[0] - start[0]) * inward[0] + (a[1] - start[1]) * inward[1]
    if abs(offset + wall) > 1e-7:
        return None
    first = (a[0] - start[0]) * direction[0] + (a[1] - start[1]) * direction[1]
    low, high = max(0.0, first), min(length, first + reach)
    return (low, high) if high > low else None


def _front_first(corners: tuple[Point, ...]) -> tuple[Point, ...]:
    """Turn the corners so that the longest front side comes first, as in a box's compiled prism."""
    best, at = 0.0, 0
    for k in range(len(corners)):
        (az, ay), (bz, by) = corners[k], corners[(k + 1) % len(corners)]
        length = math.hypot(bz - az, by - ay)
        if side_of(by - ay, az - bz) == "front" and length > best + 1e-9:
            best, at = length, k
    return corners[at:] + corners[:at]


def prism_of(thing: BoxPlan | Space, wall: float | None = None) -> Prism:
    """The compiled layout's view of a plan, or of the space when a box fills it.

    Parameters
    ----------
    thing : BoxPlan or Space
        Of shape box, wedge or profile.
    wall : float, optional
        Thickness of the sheet; a plan has its own. [m]

    Returns
    -------
    Prism

    Raises
    ------
    InputError
        If the shape is not one.
    DoesNotFit
        If the walls leave nothing.
    """
    thick = wall if wall is not None else getattr(thing, "wall", 0.0)
    outer = outer_profile(thing)
    inner = _front_first(inner_profile(outer, thick))
    width = thing.width - 2.0 * thick
    if width <= 0.0:
        raise DoesNotFit(
            f"walls of {1e3 * thick:.1f} mm leave nothing of a width of {1e3 * thing.width:.1f} mm"
        )
    n = len(inner)
    table = np.zeros((n + 2, 9))
    names: list[str] = []
    for k in range(n):
        start, end = inner[k], inner[(k + 1) % n]
        length = math.hypot(end[0] - start[0], end[1] - start[1])
        direction = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        inward = (-direction[1], direction[0])
        span: Point = (0.0, 0.0)
        side = side_of(-inward[0], -inward[1])
        for j in range(len(outer)):
            found = _usable(start, direction, inward, length, outer[j], outer[(j + 1) % len(outer)], thick)
            if found is not None:
                span = found
                if thing.shape == "wedge" and j == 1:
                    side = "back"
        table[k] = (FACES.index(side), *start, *direction, *inward, *span)
        names.append(side)
    for k, side in ((n, "left"), (n + 1, "right")):
        table[k, 0] = FACES.index(side)
        names.append(side)
    counts: dict[str, int] = {}
    for k, side in enumerate(names):
        counts[side] = counts.get(side, 0) + 1
        if counts[side] > 1:
            names[k] = f"{side} {counts[side]}"
    return Prism(
        polygon=np.array(inner),
        table=table,
        names=tuple(names),
        width=width,
        wall=thick,
        is_box=thing.shape == "box",
    )


def faces(thing: BoxPlan | Space, wall: float | None = None) -> tuple[Face, ...]:
    """Every face with its name, its usable outline and its frame in space; see ``prism_of`` for the arguments."""
    prism = prism_of(thing, wall)
    n = len(prism.polygon)
    made = []
    for k in range(n):
        _, oz, oy, dz, dy, nz, ny, low, high = (float(c) for c in prism.table[k])
        w = prism.width
        made.append(
            Face(
                name=prism.names[k],
                side=FACES[int(prism.table[k, 0])],
                usable=((low, 0.0), (high, 0.0), (high, w), (low, w)),
                origin=(prism.wall, oy, oz),
                axis_u=(0.0, dy, dz),
                axis_v=(1.0, 0.0, 0.0),
                inward=(0.0, ny, nz),
            )
        )
    outline = tuple((float(z), float(y)) for z, y in prism.polygon)
    for k, x, inward in ((n, prism.wall, 1.0), (n + 1, prism.wall + prism.width, -1.0)):
        made.append(
            Face(
                name=prism.names[k],
                side=prism.names[k],
                usable=outline,
                origin=(x, 0.0, 0.0),
                axis_u=(0.0, 0.0, 1.0),
                axis_v=(0.0, 1.0, 0.0),
                inward=(inward, 0.0, 0.0),
            )
        )
    return tuple(made)
