"""Envelopes: every box is a polygon in the depth-height plane, extruded over its width.

Axes: x is the width (left to right), y the height (bottom to top), z the depth (front to back). A profile point is
(depth, height), as in the brief.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from shapely import Polygon
from shapely.validation import explain_validity

from boxwright.brief import Space
from boxwright.design import BoxPlan
from boxwright.errors import DoesNotFit, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "GOLDEN",
    "MOST_CORNERS",
    "Point",
    "boxes_for",
    "inner_profile",
    "inside_volume",
    "outer_profile",
    "outer_volume",
    "room_missing",
]

Point = tuple[float, float]

THINNEST = 0.005
"""Least outer size that still counts as a box. [m]"""
LARGEST = 20.0
"""Most outer size that still counts as a box. [m]"""
MOST_CORNERS = 32
GOLDEN = (1.618034, 1.0, 0.618034)
"""Inner height, depth and width of a box nobody gave sizes for: no two edges near a simple ratio.
Common practice, no source."""


def _size(value: float, name: str) -> float:
    if not math.isfinite(value) or not THINNEST <= value <= LARGEST:
        message = f"{name} must be {1e3 * THINNEST:g} mm to {LARGEST:g} m, got {value:g} m"
        raise InputError(message)
    return float(value)


def _without_straight_corners(points: list[Point]) -> list[Point]:
    """Drop doubled points and corners that lie on a straight line."""
    kept: list[Point] = []
    n = len(points)
    for i in range(n):
        (az, ay), (bz, by), (cz, cy) = points[i - 1], points[i], points[(i + 1) % n]
        cross = (bz - az) * (cy - by) - (by - ay) * (cz - bz)
        reach = math.hypot(bz - az, by - ay) * math.hypot(cz - bz, cy - by)
        if abs(cross) > 1e-9 * reach:
            kept.append(points[i])
    return kept


def _checked_profile(corners: Sequence[Point]) -> tuple[Point, ...]:
    points = [(float(z), float(y)) for z, y in corners]
    if any(not math.isfinite(c) or abs(c) > LARGEST for p in points for c in p):
        raise InputError(f"profile points must be finite and within {LARGEST:g} m, got {corners!r}")
    if len(points) > 1 and points[0] == points[-1]:
        points.pop()
    points = [p for p, q in pairwise([*points, *points[:1]]) if p != q]
    if not 3 <= len(points) <= MOST_CORNERS:
        raise InputError(f"profile must have 3 to {MOST_CORNERS} corners, got {len(points)}")
    shape = Polygon(points)
    if not shape.is_valid:
        raise InputError(f"profile must not touch or cross itself, got: {explain_validity(shape)}")
    points = _without_straight_corners(points)
    shape = Polygon(points)
    if len(points) < 3 or shape.area < THINNEST**2 or shape.buffer(-THINNEST / 2.0).is_empty:
        raise InputError(f"profile must be at least {1e3 * THINNEST:g} mm thick, got {corners!r}")
    if not shape.exterior.is_ccw:
        points.reverse()
    return tuple(points)


def outer_profile(thing: BoxPlan | Space) -> tuple[Point, ...]:
    """Corners of the outer shape in the depth-height plane, counter-clockwise.

    Parameters
    ----------
    thing : BoxPlan or Space
        Of shape box, wedge or profile. A box and a wedge start at (0, 0), the lower front edge.

    Returns
    -------
    tuple of (float, float)
        (depth, height) of each corner; doubled points and corners on a straight line are left out. [m]

    Raises
    ------
    InputError
        If a size is missing, negative, absurdly thin or large, or the profile crosses itself.
    """
    _size(thing.width, "width")
    if thing.shape == "profile":
        return _checked_profile(thing.profile)
    if thing.shape == "volume":
        raise InputError("space must have sizes for this, got only a net volume")
    h = _size(thing.height, "height")
    d = _size(thing.depth, "depth")
    if thing.shape == "box":
        return ((0.0, 0.0), (d, 0.0), (d, h), (0.0, h))
    top = _size(thing.depth_top, "depth_top")
    return ((0.0, 0.0), (d, 0.0), (top, h), (0.0, h))


def _check_wall(wall: float) -> None:
    if not math.isfinite(wall) or wall < 0.0:
        raise InputError(f"wall must be >= 0 m, got {wall:g}")


def inner_profile(polygon: Sequence[Point], wall: float) -> tuple[Point, ...]:
    """Corners of the inside: every side moved in by the wall, sharp corners kept.

    Parameters
    ----------
    polygon : sequence of (float, float)
        Outer corners as of ``outer_profile``. [m]
    wall : float
        Thickness of the sheet, >= 0. [m]

    Returns
    -------
    tuple of (float, float)
        Counter-clockwise. [m]

    Raises
    ------
    InputError
        If the wall is negative or not finite.
    DoesNotFit
        If the walls leave nothing, or leave two separate rooms.
    """
    _check_wall(wall)
    inside = Polygon(polygon).buffer(-wall, join_style="mitre", mitre_limit=1e6)
    if inside.is_empty or inside.area < 1e-8:
        raise DoesNotFit(f"walls of {1e3 * wall:.1f} mm leave nothing inside the profile")
    if inside.geom_type != "Polygon":
        raise DoesNotFit(
            f"walls of {1e3 * wall:.1f} mm cut the inside into {len(inside.geoms)} rooms: a neck of the profile is "
            f"narrower than two walls"
        )
    points = _without_straight_corners([(float(z), float(y)) for z, y in inside.exterior.coords[:-1]])
    if not Polygon(points).exterior.is_ccw:
        points.reverse()
    return tuple(points)


def _area(points: Sequence[Point]) -> float:
    n = len(points)
    return 0.5 * sum(
        points[i][0] * points[(i + 1) % n][1] - points[(i + 1) % n][0] * points[i][1] for i in range(n)
    )


def outer_volume(thing: BoxPlan | Space) -> float:
    """Volume of the closed outer shape. [m³]."""
    return _area(outer_profile(thing)) * thing.width


def inside_volume(plan: BoxPlan) -> float:
    """Volume inside the walls, before anything is put in.

    Parameters
    ----------
    plan : BoxPlan
        Its wall is taken off every face.

    Returns
    -------
    float
        [m³]

    Raises
    ------
    InputError
        If the plan's shape is not one.
    DoesNotFit
        If the walls leave nothing.
    """
    clear = plan.width - 2.0 * plan.wall
    area = _area(inner_profile(outer_profile(plan), plan.wall))
    if clear <= 0.0:
        raise DoesNotFit(
            f"walls of {1e3 * plan.wall:.1f} mm leave nothing of a width of {1e3 * plan.width:.1f} mm"
        )
    return area * clear


def _positive(value: float, name: str) -> None:
    if not math.isfinite(value) or value <= 0.0:
        raise InputError(f"{name} must be > 0, got {value:g}")


def room_missing(space: Space, wall: float, volume: float) -> dict[str, float]:
    """How much each outer size that may grow is short of holding a volume; 0: it holds it.

    Parameters
    ----------
    space : Space
        Of shape box, wedge or profile.
    wall : float
        [m]
    volume : float
        Wanted inside the walls. [m³]

    Returns
    -------
    dict of str to float
        Size name (width, height, depth for a box; width for the others) to millimetres it would have to
        grow by, were it alone to grow. [mm]
    """
    _positive(volume, "inside volume")
    clear_width = space.width - 2.0 * wall
    area = _area(inner_profile(outer_profile(space), wall))
    missing = {"width": max(0.0, volume / area - clear_width)}
    if space.shape == "box" and clear_width > 0.0:
        clear_height, clear_depth = space.height - 2.0 * wall, space.depth - 2.0 * wall
        missing["height"] = max(0.0, volume / (clear_width * clear_depth) - clear_height)
        missing["depth"] = max(0.0, volume / (clear_width * clear_height) - clear_depth)
    return {name: 1e3 * value for name, value in missing.items()}


def _golden_box(wall: float, volume: float, least: tuple[float, float, float], sheet: str) -> BoxPlan:
    """Inner edges in the golden ratio, each at least what the parts ask for."""
    ratios = (GOLDEN[2], GOLDEN[0], GOLDEN[1])
    floors = [max(0.0, size - 2.0 * wall) for size in least]
    fixed = [False, False, False]
    edges = [0.0, 0.0, 0.0]
    for _ in range(3):
        room = volume
        share = 1.0
        for i in range(3):
            if fixed[i]:
                room /= floors[i]
            else:
                share *= ratios[i]
        free = 3 - sum(fixed)
        if free == 0:
            break
        scale = (room / share) ** (1.0 / free)
        edges = [floors[i] if fixed[i] else scale * ratios[i] for i in range(3)]
        short = [i for i in range(3) if not fixed[i] and edges[i] < floors[i]]
        if not short:
            break
        for i in short:
            fixed[i] = True
    if any(edge < floor * (1.0 - 1e-12) for edge, floor in zip(edges, floors, strict=True)):
        litres = 1e3 * math.prod(floors)
        raise DoesNotFit(f"the parts need at least {litres:.1f} L inside, {1e3 * volume:.1f} L are asked for")
    w, h, d = (edge + 2.0 * wall for edge in edges)
    if max(w, h, d) > LARGEST or min(w, h, d) < THINNEST:
        raise InputError(
            f"inside volume must make a box of {1e3 * THINNEST:g} mm to {LARGEST:g} m, got {volume:g} m³"
        )
    return BoxPlan(width=w, height=h, depth=d, wall=wall, sheet=sheet)


def boxes_for(
    space: Space,
    wall: float,
    volume: float,
    *,
    least: tuple[float, float, float] = (0.0, 0.0, 0.0),
    sheet: str = "",
) -> tuple[BoxPlan, ...]:
    """Boxes within the space that hold exactly this volume inside their walls.

    Parameters
    ----------
    space : Space
        A box gives a candidate for each axis that can shrink; a wedge and a profile shrink in width; a space without
        sizes gives one box with edges in the golden ratio.
    wall : float
        Thickness of the sheet. [m]
    volume : float
        Inside volume: net volume and everything that stands in it. [m³]
    least : tuple of float
        Outer width, height and depth that the parts need at least, for a space without sizes. [m]
    sheet : str
        Name of the sheet, written into the plans.

    Returns
    -------
    tuple of BoxPlan
        At least one.

    Raises
    ------
    DoesNotFit
        If the space cannot hold the volume: the message names the millimetres that are missing.
    InputError
        If the space is not a shape or the volume not positive.
    """
    _positive(volume, "inside volume")
    _check_wall(wall)
    if space.shape == "volume":
        return (_golden_box(wall, volume, least, sheet),)
    missing = room_missing(space, wall, volume)
    if space.width <= 2.0 * wall or missing["width"] > 1e-6:
        words = " or ".join(f"{mm:.0f} mm more {name}" for name, mm in missing.items())
        raise DoesNotFit(f"the space is too small for {1e3 * volume:.1f} L inside: {words} would do")
    plan = BoxPlan(
        shape=space.shape, width=space.width, height=space.height, depth=space.depth, depth_top=space.depth_top,
        profile=space.profile, wall=wall, sheet=sheet,
    )  # fmt: skip
    area = _area(inner_profile(outer_profile(space), wall))
    sizes = {"width": volume / area + 2.0 * wall}
    if space.shape == "box":
        w, h, d = (edge - 2.0 * wall for edge in (space.width, space.height, space.depth))
        sizes["height"] = volume / (w * d) + 2.0 * wall
        sizes["depth"] = volume / (w * h) + 2.0 * wall
    plans = [
        _resized(plan, name, min(size, getattr(space, name)))
        for name, size in sizes.items()
        if size >= THINNEST
    ]
    return tuple(dict.fromkeys(plans))


def _resized(plan: BoxPlan, name: str, size: float) -> BoxPlan:
    from dataclasses import replace

    return replace(plan, **{name: size})  # type: ignore[arg-type]
