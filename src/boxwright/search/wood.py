"""The wood of the box for each way in which a space may shrink to an inside volume."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import Space
from boxwright.design import BoxPlan
from boxwright.parts import Sheet
from boxwright.workshop.carcass import carcass
from boxwright.workshop.shape import boxes_for

__all__ = ["Axis", "axes_of", "plans_along", "woods_of"]

Real = NDArray[np.float64]
Axis = Literal["width", "height", "depth"]


def axes_of(space: Space) -> tuple[Axis, ...]:
    """Those along which a space may shrink to a box."""
    return ("width", "height", "depth") if space.shape == "box" else ("width",)


def plans_along(space: Space, sheet: Sheet, volume: float) -> tuple[BoxPlan | None, ...]:
    """The box of an inside volume that is the space shrunk along each axis; None: it would be too thin."""
    plans, axes = boxes_for(space, sheet.thickness, volume, sheet=sheet.name), axes_of(space)
    if len(axes) == 1:
        return plans
    return tuple(
        next((p for p in plans if all(getattr(p, a) == getattr(space, a) for a in axes if a != axis)), None)
        for axis in axes
    )


def _wood(plan: BoxPlan | None, sheet: Sheet) -> tuple[float, float]:
    """Weight and price of the wood; far too much where there is no box. [kg], [currency]."""
    if plan is None:
        return 1e9, 1e9
    wood = carcass(plan, sheet)
    return wood.weight, wood.price or 0.0


def woods_of(space: Space, sheet: Sheet, volumes: Real) -> Real:
    """Weight and price of the wood for inside volumes, shape (n, axes, 2). [kg], [currency]."""
    return np.array([[_wood(plan, sheet) for plan in plans_along(space, sheet, float(v))] for v in volumes])
