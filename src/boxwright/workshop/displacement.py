"""What stands inside the box and so takes air away from it: drivers, passives, vents, braces.

Where a data sheet leaves sizes out they are estimated from the cone's area; every result says what was estimated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from boxwright.design import VentOpening
from boxwright.errors import DoesNotFit, InputError
from boxwright.workshop.bodies import driver_body, driver_weight, passive_body, passive_weight
from boxwright.workshop.shape import inner_profile, inside_volume, outer_profile

if TYPE_CHECKING:
    from boxwright.design import BoxPlan, Design
    from boxwright.parts import Body, Driver, Passive

__all__ = [
    "BRACE_SHARE",
    "SHOULDER",
    "NetVolume",
    "brace_displacement",
    "driver_displacement",
    "driver_weight",
    "net_volume",
    "net_volume_of",
    "passive_displacement",
    "passive_weight",
    "vent_displacement",
]

SHOULDER = 0.6
"""Share of a driver's depth that its basket takes; the rest is magnet. Common practice, no source. [-]"""
BRACE_SHARE = 0.4
"""Share of the box's section that a window brace fills. Common practice, no source. [-]"""
STEEL = 7850.0
"""Density of washers on a passive's cone. [kg/m³]"""


def _frustum(top: float, bottom: float, height: float) -> float:
    """Volume of a cone frustum by its diameters. [m³]."""
    return math.pi * height * (top * top + top * bottom + bottom * bottom) / 12.0


def _tapered(top: float, bottom: float, height: float, skip: float) -> float:
    """Volume of a cone frustum from ``skip`` below its top (inside the panel) downwards. [m³]."""
    if skip >= height:
        return 0.0
    return _frustum(top + (bottom - top) * skip / height, bottom, height - skip)


def driver_displacement(driver: Driver, wall: float = 0.018) -> float:
    """Air of the box that a driver takes up.

    Parameters
    ----------
    driver : Driver
        ``body.displacement``, where stated, is taken as it is.
    wall : float
        Thickness of the panel it sits in; what lies within the panel takes no air. [m]

    Returns
    -------
    float
        [m³]

    Notes
    -----
    Estimate: a frustum from the cutout to the magnet as deep as the basket (``SHOULDER`` of the depth), whole because
    the air before the cone is outside air, and the magnet as a cylinder behind it.
    """
    if driver.body.displacement is not None:
        return driver.body.displacement
    body, _ = driver_body(driver)
    cutout, depth, magnet = body.cutout_diameter or 0.0, body.depth or 0.0, body.magnet_diameter or 0.0
    shoulder = SHOULDER * depth
    behind = depth - max(shoulder, wall)
    return _tapered(cutout, magnet, shoulder, wall) + max(0.0, behind) * math.pi / 4.0 * magnet**2


def passive_displacement(passive: Passive, wall: float = 0.018, added_mass: float = 0.0) -> float:
    """Air of the box that a passive takes up at rest.

    Parameters
    ----------
    passive : Passive
        ``body.displacement``, where stated, stands for the passive without added mass.
    wall : float
        Thickness of the panel. [m]
    added_mass : float
        Steel on its cone, inside. [kg]

    Returns
    -------
    float
        [m³]

    Notes
    -----
    Estimate: a frustum from the cutout to half of it over the depth, and the added mass as steel. Travel takes and
    gives back the same volume over a period, so it counts for the clearance only, not here.
    """
    mass = max(0.0, added_mass) / STEEL
    if passive.body.displacement is not None:
        return passive.body.displacement + mass
    body, _ = passive_body(passive)
    cutout = body.cutout_diameter or 0.0
    return _tapered(cutout, 0.5 * cutout, body.depth or 0.0, wall) + mass


def vent_displacement(vent: VentOpening, panel: float, vent_wall: float = 0.003) -> float:
    """Air of the box that one vent takes up, its own air and its wall included.

    Parameters
    ----------
    vent : VentOpening
        Its ``walls`` sides along walls of the box need no panel of their own.
    panel : float
        Thickness of the box's panel, which the vent's first stretch passes. [m]
    vent_wall : float
        Thickness of the tube or of the slot's panels. [m]

    Returns
    -------
    float
        [m³]

    Notes
    -----
    Outer section times the length inside. A slot has four sides: with 0 to 3 of them along the box it needs 4, 3, 2
    (one each way) or 1 (across its height) panels. Rounded ends are left out.
    """
    length = max(0.0, vent.length - panel)
    if vent.shape == "round":
        return math.pi / 4.0 * (vent.diameter + 2.0 * vent_wall) ** 2 * length
    across = (2, 2, 1, 0)[min(max(vent.walls, 0), 3)]
    over = (2, 1, 1, 1)[min(max(vent.walls, 0), 3)]
    return (vent.width + across * vent_wall) * (vent.height + over * vent_wall) * length


def brace_displacement(plan: BoxPlan) -> float:
    """Air that the plan's window braces take up: ``BRACE_SHARE`` of the inner section, one wall thick, each. [m³].

    The section lies across the longest inner edge of a box and across the width of a wedge or profile.
    """
    if plan.braces == 0:
        return 0.0
    inside = inside_volume(plan)
    across = plan.width - 2.0 * plan.wall
    if plan.shape == "box":
        across = max(plan.width, plan.height, plan.depth) - 2.0 * plan.wall
    return plan.braces * BRACE_SHARE * inside / across * plan.wall


@dataclass(frozen=True, slots=True, kw_only=True)
class NetVolume:
    """Where the inside volume goes.

    Attributes
    ----------
    inside : float
        Within the walls. [m³]
    taken : dict of str to float
        By drivers, passives, vents, braces. [m³]
    estimated : tuple of str
        Sizes that no data sheet gave.
    """

    inside: float
    taken: dict[str, float]
    estimated: tuple[str, ...] = ()

    @property
    def net(self) -> float:
        """Air that is left. [m³]."""
        return self.inside - sum(self.taken.values())


def _estimates(kind: str, name: str, body: Body, names: tuple[str, ...]) -> tuple[str, ...]:
    return (
        ()
        if body.displacement is not None
        else tuple(f"{kind} {name}: {n}".replace(" :", ":") for n in names)
    )


def net_volume(
    plan: BoxPlan,
    *,
    drivers: tuple[tuple[Driver, int], ...] = (),
    passives: tuple[tuple[Passive, int, float], ...] = (),
    vents: tuple[VentOpening, ...] = (),
    vent_wall: float = 0.003,
) -> NetVolume:
    """Air left in a box after everything has been put in.

    Parameters
    ----------
    plan : BoxPlan
        Its walls and braces.
    drivers : tuple of (Driver, int)
        And how many of each.
    passives : tuple of (Passive, int, float)
        How many of each, and the mass added to one. [kg]
    vents : tuple of VentOpening
        Each with its own count.
    vent_wall : float
        Thickness of tubes and slot panels. [m]

    Returns
    -------
    NetVolume

    Raises
    ------
    DoesNotFit
        If nothing is left.
    """
    estimated: list[str] = []
    taken = {"drivers": 0.0, "passives": 0.0, "vents": 0.0, "braces": brace_displacement(plan)}
    for driver, count in drivers:
        taken["drivers"] += count * driver_displacement(driver, plan.wall)
        estimated += _estimates("driver", driver.name, driver.body, driver_body(driver)[1])
    for passive, count, mass in passives:
        taken["passives"] += count * passive_displacement(passive, plan.wall, mass)
        estimated += _estimates("passive", passive.name, passive.body, passive_body(passive)[1])
    for vent in vents:
        taken["vents"] += vent.count * vent_displacement(vent, plan.wall, vent_wall)
    result = NetVolume(inside=inside_volume(plan), taken=taken, estimated=tuple(estimated))
    if result.net <= 0.0:
        gone = 1e3 * sum(taken.values())
        raise DoesNotFit(f"what goes in takes {gone:.2f} L, the box holds {1e3 * result.inside:.2f} L")
    return result


def net_volume_of(design: Design) -> NetVolume:
    """Air left in a design's own box; every driver, passive and vent is taken to stand in it.

    A design with a front chamber has a partition across its longest inner side, one wall thick.
    """
    if design.box is None:
        raise InputError("design must have a [box] for this, got none")
    inner_profile(outer_profile(design.box), design.box.wall)
    vents = tuple(o for o in design.openings if isinstance(o, VentOpening))
    passives = tuple(
        (o.passive, o.count, o.added_mass) for o in design.openings if not isinstance(o, VentOpening)
    )
    found = net_volume(
        design.box, drivers=((design.driver, design.arrangement.count),), passives=passives, vents=vents
    )
    if design.front is None:
        return found
    return replace(found, taken=found.taken | {"partition": _partition(design.box)})


def _partition(plan: BoxPlan) -> float:
    """Volume of a panel across the longest inner side of a box, or across the width of another shape. [m³]."""
    across = plan.width if plan.shape != "box" else max(plan.width, plan.height, plan.depth)
    return inside_volume(plan) / (across - 2.0 * plan.wall) * plan.wall
