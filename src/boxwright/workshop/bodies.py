"""The outside of drivers and passives: sizes and weights, the missing ones estimated from the cone.

Every estimate is common practice without a source; functions say which values are estimated.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from boxwright.errors import InputError

if TYPE_CHECKING:
    from boxwright.parts import Body, Driver, Passive

__all__ = [
    "cone_diameter",
    "driver_body",
    "driver_weight",
    "passive_body",
    "passive_weight",
]

FRAME_TO_CONE, CUTOUT_TO_CONE, DRIVER_DEPTH_TO_CONE, PASSIVE_DEPTH_TO_CONE, MAGNET_TO_CONE = (
    1.24,
    1.10,
    0.6,
    0.35,
    0.6,
)
"""Sizes over the effective cone diameter √(4·sd/π). Common practice, no source. [-]"""
DRIVER_WEIGHT, PASSIVE_WEIGHT = 250.0, 80.0
"""Weight over the cube of the frame's diameter: a 310 mm driver about 7.4 kg, a passive's frame about 2.4 kg.
Common practice, no source. [kg/m³]"""


def cone_diameter(area: float) -> float:
    """Diameter of a disc of the cone's effective area. [m]."""
    if not math.isfinite(area) or area <= 0.0:
        raise InputError(f"cone area must be > 0 m², got {area:g}")
    return math.sqrt(4.0 * area / math.pi)


def _filled(body: Body, area: float, depth_to_cone: float, *, magnet: bool) -> tuple[Body, tuple[str, ...]]:
    for name in ("frame_diameter", "cutout_diameter", "depth", "magnet_diameter", "displacement", "weight"):
        value = getattr(body, name)
        if value is not None and not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} must be > 0, got {value:g}")
    cone = cone_diameter(area)
    if body.cutout_diameter is not None:
        cone = max(cone, body.cutout_diameter / CUTOUT_TO_CONE)
    elif body.frame_diameter is not None:
        cone = body.frame_diameter / FRAME_TO_CONE
    cutout = body.cutout_diameter if body.cutout_diameter is not None else CUTOUT_TO_CONE * cone
    frame = body.frame_diameter if body.frame_diameter is not None else FRAME_TO_CONE * cone
    if cutout > frame:
        raise InputError(f"cutout_diameter must be at most the frame's {frame:g} m, got {cutout:g} m")
    behind = body.magnet_diameter
    if behind is None and magnet:
        behind = min(MAGNET_TO_CONE * cone, cutout)
    if behind is not None and behind > frame:
        raise InputError(f"magnet_diameter must be at most the frame's {frame:g} m, got {behind:g} m")
    filled = replace(
        body,
        frame_diameter=frame,
        cutout_diameter=cutout,
        depth=body.depth if body.depth is not None else depth_to_cone * cone,
        magnet_diameter=behind,
    )
    names = ("frame_diameter", "cutout_diameter", "depth", "magnet_diameter")
    return filled, tuple(n for n in names if getattr(body, n) is None and getattr(filled, n) is not None)


def driver_body(driver: Driver) -> tuple[Body, tuple[str, ...]]:
    """The driver's sizes, the missing ones estimated from its cone; and which these are."""
    return _filled(driver.body, driver.sd, DRIVER_DEPTH_TO_CONE, magnet=True)


def passive_body(passive: Passive) -> tuple[Body, tuple[str, ...]]:
    """The passive's sizes, the missing ones estimated from its cone; and which these are."""
    return _filled(passive.body, passive.sp, PASSIVE_DEPTH_TO_CONE, magnet=False)


def driver_weight(driver: Driver) -> float:
    """What the driver weighs, estimated from its frame when ``body.weight`` is not stated. [kg]."""
    if driver.body.weight is not None:
        return driver.body.weight
    return DRIVER_WEIGHT * (driver_body(driver)[0].frame_diameter or 0.0) ** 3


def passive_weight(passive: Passive) -> float:
    """What the passive weighs without added mass, estimated from its frame and cone when not stated. [kg]."""
    if passive.body.weight is not None:
        return passive.body.weight
    return PASSIVE_WEIGHT * (passive_body(passive)[0].frame_diameter or 0.0) ** 3 + passive.mmp
