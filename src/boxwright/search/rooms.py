"""How long a vent may be in the boxes of a search, for each way the space may shrink and with or without bends."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import FACES
from boxwright.design import BoxPlan
from boxwright.parts import VentStock
from boxwright.search.families import OpeningChoice
from boxwright.search.geometry import Geometry, Pieces
from boxwright.search.wood import plans_along
from boxwright.workshop.items import Item
from boxwright.workshop.prism import prism_of
from boxwright.workshop.ventroom import inscribed_box, longest_of_each

__all__ = ["BENDS", "Rooms", "between", "rooms_for"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

BENDS = 2  # that a folded vent is priced with, at most as many as it has
_FOLDS = 5  # column of a section that says whether it may be folded


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms:
    """Longest vents of a task.

    Attributes
    ----------
    inside : ndarray, shape (nv,)
        Inside volumes. [m³]
    longest, plain : ndarray, shape (axes, nv, nd, no)
        Longest vent beside each driver, with bends where the stock may be bent, and without any. [m]
    bends : ndarray, shape (no,)
        What the bends of each choice cost. [currency]
    """

    inside: Real
    longest: Real
    plain: Real
    bends: Real

    def take(
        self, driver: Whole, opening: Whole, inside: Real, length: Real
    ) -> tuple[NDArray[np.bool_], Real]:
        """Whether each box has room for the vents, and what their bends cost in it, shape (axes, n) each."""
        above, part = between(self.inside, inside)

        def at(rooms: Real) -> Real:
            low, high = rooms[:, above - 1, driver, opening], rooms[:, above, driver, opening]
            return np.asarray(low + part * (high - low))

        return at(self.longest) >= length - 1e-9, np.where(
            at(self.plain) >= length - 1e-9, 0.0, self.bends[opening]
        )


def between(volumes: Real, inside: Real) -> tuple[Whole, Real]:
    """Index of the volume above each inside volume, and how far it is on the way there from the one below.

    A box that shrinks along one axis loses room for its vents in proportion to its volume, or none at all, so a
    straight line between two volumes is right but for the kinks.
    """
    above = np.clip(np.searchsorted(volumes, inside, side="right"), 1, volumes.size - 1)
    part = (inside - volumes[above - 1]) / (volumes[above] - volumes[above - 1])
    return above, np.clip(part, 0.0, 1.0)


def rooms_for(
    geometry: Geometry,
    inside: Real,
    pieces: Pieces,
    openings: tuple[OpeningChoice, ...],
    chamber: Callable[[BoxPlan], BoxPlan] | None = None,
) -> Rooms | None:
    """Measure the boxes of a task for its vents; None where it has none.

    Parameters
    ----------
    inside : ndarray, shape (nv,)
        Inside volumes. [m³]
    chamber : callable, optional
        The part of a box that the vents are in, where the driver is not.
    """
    stocks = [o.part for o in openings if isinstance(o.part, VentStock)]
    if not stocks:
        return None
    kinds, which_driver = np.unique(pieces.driver, return_inverse=True)
    motors = np.array([_motor(pieces.kinds[k], geometry.wall) for k in kinds])
    if chamber is not None:
        motors[:] = 0.0
    # told apart by what they are, not by their names: two makers may use the same one
    rows = [_section(geometry.sized(o.part), o.count) for o in openings if isinstance(o.part, VentStock)]
    unique = list(dict.fromkeys(rows))
    sections = np.array(unique)
    straight = sections.copy()
    straight[:, _FOLDS] = 0.0
    which_vent = [unique.index(row) for row in rows]
    allowed = sum(1 << FACES.index(face) for face in set(geometry.limits.vent_faces))
    shape = (len(geometry.axes), inside.size, kinds.size, len(unique))
    longest, plain = np.zeros(shape), np.zeros(shape)
    for v, volume in enumerate(inside):
        plans = plans_along(geometry.space, geometry.sheet, min(float(volume), geometry.capacity))
        for axis, plan in enumerate(plans):
            if plan is None:
                continue
            prism = prism_of(plan if chamber is None else chamber(plan))
            height, depth, mask = inscribed_box(prism)
            sizes = (prism.width, height, depth, geometry.wall)
            longest_of_each(sizes, allowed & mask, motors, sections, longest[axis, v])
            longest_of_each(sizes, allowed & mask, motors, straight, plain[axis, v])
    spread = which_driver.reshape(-1)
    bends = [BENDS * o.count * (o.part.bend_price or 0.0) for o in openings if isinstance(o.part, VentStock)]
    return Rooms(
        inside=inside,
        longest=np.ascontiguousarray(longest[:, :, spread][:, :, :, which_vent]),
        plain=np.ascontiguousarray(plain[:, :, spread][:, :, :, which_vent]),
        bends=np.array(bends),
    )


def _motor(item: Item, wall: float) -> tuple[float, float, float]:
    """Faces as bits, width and depth behind the panel of a driver's motor, as `vent_room` takes them."""
    carrying = sum(1 << FACES.index(face) for face in set(item.faces))
    deep = max(item.depth + item.clearance, item.shoulder_depth) - wall
    return float(carrying), item.cutout_diameter, max(0.0, deep)


def _section(stock: VentStock, count: int) -> tuple[float, ...]:
    """Bore, tube, slot width and height, panel, whether it may be folded, longest piece: of one vent stock.

    Several bent vents might meet each other, so only a single one is folded.
    """
    most = stock.max_length if stock.max_length is not None else math.inf
    if stock.shape == "round":
        bore = stock.diameter or 0.0
        return (
            bore,
            bore + 2.0 * stock.wall,
            0.0,
            0.0,
            stock.wall,
            float(stock.bend_price is not None and count == 1),
            most,
        )
    return 0.0, 0.0, stock.width or 0.0, stock.height or 0.0, stock.wall, 0.0, most
