"""The wood of a box: how much, how heavy, what it costs; and what the whole box weighs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from boxwright.errors import InputError
from boxwright.workshop.bodies import driver_weight, passive_weight
from boxwright.workshop.displacement import brace_displacement
from boxwright.workshop.shape import inside_volume, outer_volume

if TYPE_CHECKING:
    from collections.abc import Sequence

    from boxwright.design import BoxPlan
    from boxwright.parts import Driver, Passive, Sheet

__all__ = ["WASTE", "Carcass", "Weight", "carcass", "finished_weight"]

WASTE = 0.2
"""Share of a sheet that is lost to saw cuts and offcuts when panels are not nested. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carcass:
    """The empty box.

    Attributes
    ----------
    wood_volume : float
        Walls and braces, before any cutout. [m³]
    weight : float
        [kg]
    panel_area : float
        Wood volume over thickness: the area of all panels together, whatever the joints. [m²]
    price : float or None
        Of the sheet used up, waste included; None: the sheet has no price.
    """

    wood_volume: float
    weight: float
    panel_area: float
    price: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """What the finished box weighs.

    Attributes
    ----------
    total : float
        [kg]
    warnings : tuple of str
        Parts whose weight is estimated.
    """

    total: float
    warnings: tuple[str, ...] = ()


def carcass(plan: BoxPlan, sheet: Sheet, *, waste: float = WASTE) -> Carcass:
    """Wood, weight and price of a box made of one sheet good.

    Parameters
    ----------
    plan : BoxPlan
        Its wall counts; the sheet's own thickness is only asked for to price it.
    sheet : Sheet
        Density, size, price.
    waste : float
        Share of the sheet that is lost, 0 <= waste < 1. [-]

    Returns
    -------
    Carcass

    Raises
    ------
    InputError
        If the sheet's density or size is not positive or the waste not a share.
    DoesNotFit
        If the walls leave nothing inside.

    Notes
    -----
    Price: a share of a sheet by area, ``panel_area/(1 − waste)``; whole sheets are counted once panels are nested.
    """
    for name in ("density", "length", "width", "thickness"):
        value = getattr(sheet, name)
        if not math.isfinite(value) or value <= 0.0:
            raise InputError(f"{name} of the sheet must be > 0, got {value:g}")
    if not 0.0 <= waste < 1.0:
        raise InputError(f"waste must be 0 to below 1, got {waste:g}")
    wood = outer_volume(plan) - inside_volume(plan) + brace_displacement(plan)
    area = wood / plan.wall if plan.wall > 0.0 else 0.0
    price = None if sheet.price is None else sheet.price * area / (1.0 - waste) / (sheet.length * sheet.width)
    return Carcass(wood_volume=wood, weight=wood * sheet.density, panel_area=area, price=price)


def finished_weight(
    wood: Carcass,
    *,
    drivers: Sequence[tuple[Driver, int]] = (),
    passives: Sequence[tuple[Passive, int, float]] = (),
) -> Weight:
    """The wood and the parts together.

    Parameters
    ----------
    wood : Carcass
        As of ``carcass``.
    drivers : sequence of (Driver, int)
        And how many of each.
    passives : sequence of (Passive, int, float)
        How many of each, and the mass added to one. [kg]

    Returns
    -------
    Weight
        Without vents, screws, damping and lining.
    """
    total = wood.weight
    warnings = []
    for driver, count in drivers:
        total += count * driver_weight(driver)
        if driver.body.weight is None:
            warnings.append(f"the weight of driver {driver.name or '(unnamed)'} is estimated from its size")
    for passive, count, mass in passives:
        total += count * (passive_weight(passive) + mass)
        if passive.body.weight is None:
            warnings.append(f"the weight of passive {passive.name or '(unnamed)'} is estimated from its size")
    return Weight(total=total, warnings=tuple(warnings))
