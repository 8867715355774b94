"""The search's view of the workshop: what an inside volume costs in outer size, wood and room, and what fits in it.

A candidate's box is the space shrunk along one axis until it holds the inside volume that is wanted; each axis that
may shrink is one way to build it, and a candidate counts when one of them takes all its parts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import Limits, Space
from boxwright.design import BoxPlan
from boxwright.errors import DoesNotFit
from boxwright.parts import Sheet, VentStock
from boxwright.search.wood import Axis, axes_of, woods_of
from boxwright.workshop.carcass import carcass
from boxwright.workshop.items import Item, driver_item, passive_item, vent_item
from boxwright.workshop.layout import Layout, lay_out, least_golden, least_stretches
from boxwright.workshop.shape import boxes_for, inside_volume
from boxwright.workshop.ventroom import vent_room_in

if TYPE_CHECKING:
    from boxwright.search.families import DriverChoice, OpeningChoice

__all__ = ["Built", "Geometry", "Pieces", "geometry_for"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

_TABLE = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """A candidate's box with everything in its place.

    Attributes
    ----------
    route : str
        How the vent runs: straight, folded, slot along a wall; empty without one.
    """

    plan: BoxPlan
    layout: Layout
    items: tuple[Item, ...]
    route: str


class Pieces(NamedTuple):
    """What the choices of a task put on the faces: kinds of item by number, and how many.

    Attributes
    ----------
    driver, drivers : ndarray of int, shape (nd,)
        Kind, and how many.
    opening, openings : ndarray of int, shape (no,)
        Kind, and how many; empty for closed boxes.
    kinds : tuple of Item
    """

    driver: Whole
    drivers: Whole
    opening: Whole
    openings: Whole
    kinds: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """What the space and the sheet make of an inside volume.

    Attributes
    ----------
    capacity : float
        Inside volume of the whole space. [m³]
    volumes, weights, prices : ndarray, shape (n,)
        Inside volume, and weight and price of the wood of the leanest box that holds it. [m³], [kg], [currency]
    axis_weights, axis_prices : ndarray, shape (axes, n)
        The same for each axis along which the space may shrink.
    """

    space: Space
    limits: Limits
    sheet: Sheet
    capacity: float
    volumes: Real
    weights: Real
    prices: Real
    axis_weights: Real
    axis_prices: Real

    @property
    def wall(self) -> float:
        """Thickness of the sheet. [m]."""
        return self.sheet.thickness

    @property
    def axes(self) -> tuple[Axis, ...]:
        """Those along which the space may shrink to a box."""
        return axes_of(self.space)

    def wood(self, inside: Real) -> tuple[Real, Real]:
        """Weight and price of the wood for inside volumes of any shape. [kg], [currency]."""
        return np.interp(inside, self.volumes, self.weights), np.interp(inside, self.volumes, self.prices)

    def extra_wood(
        self, pieces: Pieces, pairs: Whole, inside: Real, boxes: NDArray[np.bool_], more: Real
    ) -> tuple[NDArray[np.bool_], Real, Real]:
        """Whether the parts of each candidate find places, and what the box that takes them has more than the leanest.

        Parameters
        ----------
        pairs : ndarray of int, shape (n,)
            driver · openings + opening.
        inside : ndarray, shape (n,)
            [m³]
        boxes : ndarray of bool, shape (axes, n)
            Which boxes may be taken as far as vents and partition go.
        more : ndarray, shape (axes, n)
            What each of them costs besides its wood. [currency]

        Returns
        -------
        tuple of ndarray, shape (n,)
            Whether they fit; weight and price of the box above those of ``wood``. [kg], [currency]
        """
        unique, which = np.unique(pairs, return_inverse=True)
        takes = boxes & (inside >= self._least_by_axis(pieces, unique)[:, which.reshape(-1)])
        return np.any(takes, axis=0), *self.above_leanest(takes, inside, more)

    def above_leanest(self, takes: NDArray[np.bool_], inside: Real, more: Real) -> tuple[Real, Real]:
        """Weight and price of the leanest box that may be taken above those of ``wood``; shapes as in `extra_wood`."""
        weights = np.stack([np.interp(inside, self.volumes, w) for w in self.axis_weights])
        prices = np.stack([np.interp(inside, self.volumes, p) for p in self.axis_prices])
        best = np.where(takes, weights, np.inf).argmin(axis=0)
        at = np.arange(inside.size)
        weight, price = self.wood(inside)
        return np.asarray(weights[best, at] - weight), np.asarray(prices[best, at] + more[best, at] - price)

    def plans(self, inside: float) -> tuple[BoxPlan, ...]:
        """Boxes that hold an inside volume, the leanest in wood first; whole millimetres, rounded up.

        Raises
        ------
        DoesNotFit
            If the space cannot hold it.
        """
        held = min(inside, self.capacity)
        found = [
            _whole_millimetres(p, self.space)
            for p in boxes_for(self.space, self.wall, held, sheet=self.sheet.name)
        ]
        return tuple(sorted(found, key=lambda plan: carcass(plan, self.sheet).weight))

    def _ways(self, plan: BoxPlan, stock: VentStock, driver: Item | None) -> dict[str, float]:
        """How long a vent may be, by how it runs. [m]."""
        found = vent_room_in(plan, self.sized(stock), vent_faces=self.limits.vent_faces, driver=driver)
        most = stock.max_length if stock.max_length is not None else math.inf
        ways = {"straight": found.straight, "folded": found.folded, "slot along a wall": found.slot}
        return {name: min(room, most) for name, room in ways.items()}

    def _driver_item(self, choice: DriverChoice) -> Item:
        return driver_item(
            choice.driver, faces=self.limits.driver_faces, clearance=self.limits.depth_clearance
        )

    def _opening_item(self, choice: OpeningChoice) -> Item:
        if isinstance(choice.part, VentStock):
            return vent_item(self.sized(choice.part), faces=choice.faces)
        return passive_item(choice.part, faces=choice.faces, clearance=self.limits.depth_clearance)

    def items(
        self, driver: DriverChoice, opening: OpeningChoice | None, *, hidden: bool = False
    ) -> list[Item]:
        """Everything that sits on a face; drivers hidden on a partition do not."""
        found = [] if hidden else [self._driver_item(driver)] * driver.arrangement.count
        if opening is not None:
            found += [self._opening_item(opening)] * opening.count
        return found

    def sized(self, stock: VentStock) -> VentStock:
        """The stock with an open slot width set to what the space has between its walls."""
        if stock.shape == "slot" and not stock.width:
            inner = self.space.width - 2.0 * self.wall if self.space.width > 0.0 else 0.2
            return replace(stock, width=inner - stock.wall)
        return stock

    def with_width(self, choice: OpeningChoice) -> OpeningChoice:
        """The choice with an open slot width settled."""
        return replace(choice, part=self.sized(choice.part)) if isinstance(choice.part, VentStock) else choice

    def pieces(self, drivers: tuple[DriverChoice, ...], openings: tuple[OpeningChoice, ...]) -> Pieces:
        """What each choice puts on the faces, as numbers."""
        kinds: dict[tuple[float, ...], tuple[int, Item]] = {}

        def number(item: Item) -> int:
            return kinds.setdefault(item.row, (len(kinds), item))[0]

        return Pieces(
            driver=np.array([number(self._driver_item(d)) for d in drivers], np.int64),
            drivers=np.array([d.arrangement.count for d in drivers], np.int64),
            opening=np.array([number(self._opening_item(o)) for o in openings], np.int64),
            openings=np.array([o.count for o in openings], np.int64),
            kinds=tuple(item for _, item in kinds.values()),
        )

    def least_inside(self, pieces: Pieces, pairs: Whole) -> Real:
        """Least inside volume at which the parts of each pair find their places, shape (n,); inf: never. [m³].

        Parameters
        ----------
        pairs : ndarray of int, shape (n,)
            pair = driver · openings + opening.
        """
        return np.asarray(self._least_by_axis(pieces, pairs).min(axis=0))

    def _least_by_axis(self, pieces: Pieces, pairs: Whole) -> Real:
        """The same for each axis along which the space may shrink, shape (axes, n). [m³]."""
        offered = max(pieces.opening.size, 1)
        d = pairs // offered
        columns = [pieces.driver[d], pieces.drivers[d]]
        if pieces.opening.size:
            o = pairs % offered
            columns += [pieces.opening[o], pieces.openings[o]]
        unique, which = np.unique(np.stack(columns, axis=1), axis=0, return_inverse=True)
        most = int(unique[:, 1::2].sum(axis=1).max())
        sets = np.full((unique.shape[0], most), -1, np.int64)
        place = np.arange(most)[None, :]
        filled = np.zeros((unique.shape[0], 1), np.int64)
        for kind, count in zip(unique[:, 0::2].T, unique[:, 1::2].T, strict=True):
            here = (place >= filled) & (place < filled + count[:, None])
            sets = np.where(here, kind[:, None], sets)
            filled = filled + count[:, None]
        which = which.reshape(-1)
        if self.space.shape == "volume":
            least = np.array([self._least_golden([pieces.kinds[k] for k in row if k >= 0]) for row in sets])
            return np.asarray(least[None, which])
        found = []
        for axis in self.axes:
            size = least_stretches(self.space, self.wall, axis, pieces.kinds, sets, edge=self.limits.edge)
            found.append(self._inside_at(axis, size)[which])
        return np.stack(found)

    def lacking(
        self, driver: DriverChoice, opening: OpeningChoice | None, *, hidden: bool = False
    ) -> tuple[str, float]:
        """What the whole space lacks for the parts to find places, in words and by how much; 0: nothing. [m]."""
        if self.space.shape == "volume":
            return "", 0.0
        whole = BoxPlan(
            shape=self.space.shape, width=self.space.width, height=self.space.height, depth=self.space.depth,
            depth_top=self.space.depth_top, profile=self.space.profile, wall=self.wall,
        )  # fmt: skip
        found = lay_out(whole, self.items(driver, opening, hidden=hidden), edge=self.limits.edge)
        return found.reason, found.shortfall

    def _inside_at(self, axis: Axis, size: Real) -> Real:
        """Inside volume of the space with one outer size changed; inf where the size is NaN. [m³]."""
        full = getattr(self.space, axis)
        slope = self.capacity / (full - 2.0 * self.wall)
        return np.where(np.isfinite(size), slope * (np.nan_to_num(size) - 2.0 * self.wall), np.inf)

    def _least_golden(self, items: list[Item]) -> float:
        width, height, depth = least_golden(self.wall, items, edge=self.limits.edge)
        if math.isnan(width):
            return math.inf
        wall = 2.0 * self.wall
        return (width - wall) * (height - wall) * (depth - wall)

    def build(
        self,
        inside: float,
        driver: DriverChoice,
        opening: OpeningChoice | None,
        length: float | None,
        chamber: Callable[[BoxPlan], BoxPlan] | None = None,
    ) -> Built:
        """Find a box for an inside volume in which everything has its place.

        Parameters
        ----------
        length : float or None
            Of each vent. [m]
        chamber : callable, optional
            The part of a box that the openings are in, where the drivers sit on its partition.

        Raises
        ------
        DoesNotFit
            With the words of the layout that came closest.
        """
        items = self.items(driver, opening, hidden=chamber is not None)
        reasons: list[tuple[float, str]] = []
        for plan in self.plans(inside):
            try:
                room = plan if chamber is None else chamber(plan)
            except DoesNotFit as error:
                reasons.append((math.inf, str(error)))
                continue
            route, placed = "", items
            if length is not None and opening is not None and isinstance(opening.part, VentStock):
                ways = self._ways(room, opening.part, items[0] if chamber is None else None)
                if opening.count > 1:
                    ways["folded"] = 0.0  # several bent vents might meet each other
                short = length - max(ways.values())
                if short > 1e-9:
                    reasons.append((short, f"the vent needs {short * 1e3:.0f} mm more room"))
                    continue
                route = next(name for name, longest in ways.items() if longest >= length - 1e-9)
                if route == "straight" or opening.count > 1:
                    # where a vent runs straight its whole length has to clear motors, walls and the other vents
                    vent = vent_item(self.sized(opening.part), length, faces=opening.faces)
                    placed = [vent if item.kind == "vent" else item for item in items]
            layout = lay_out(room, placed, edge=self.limits.edge)
            if layout.fits:
                return Built(plan=plan, layout=layout, items=tuple(placed), route=route)
            reasons.append((layout.shortfall, layout.reason))
        raise DoesNotFit(min(reasons)[1])


def _whole_millimetres(plan: BoxPlan, space: Space) -> BoxPlan:
    """Outer sizes rounded up to whole millimetres, but never beyond the space."""
    sizes = {}
    for axis in ("width", "height", "depth"):
        size, most = getattr(plan, axis), getattr(space, axis)
        up = math.ceil(size * 1e3 - 1e-6) / 1e3
        sizes[axis] = min(up, most) if most > 0.0 else up
    if plan.shape != "box":
        sizes = {"width": sizes["width"]}
    return replace(plan, **sizes)


def geometry_for(space: Space, limits: Limits, sheet: Sheet) -> Geometry:
    """Measure a space once for a whole search.

    Raises
    ------
    DoesNotFit
        If the walls leave no room inside.
    """
    wall = sheet.thickness
    if space.shape == "volume":
        if space.net_volume is None:
            raise DoesNotFit("a space of shape volume needs a net_volume")
        capacity = 1.35 * space.net_volume
    else:
        whole = BoxPlan(
            shape=space.shape, width=space.width, height=space.height, depth=space.depth,
            depth_top=space.depth_top, profile=space.profile, wall=wall,
        )  # fmt: skip
        capacity = inside_volume(whole)
    volumes = np.geomspace(0.05 * capacity, capacity, _TABLE)
    woods = woods_of(space, sheet, np.minimum(volumes, capacity))
    lean = woods[np.arange(_TABLE), woods[:, :, 0].argmin(axis=1)]
    return Geometry(
        space=space,
        limits=limits,
        sheet=sheet,
        capacity=capacity,
        volumes=volumes,
        weights=lean[:, 0].copy(),
        prices=lean[:, 1].copy(),
        axis_weights=np.ascontiguousarray(woods[:, :, 0].T),
        axis_prices=np.ascontiguousarray(woods[:, :, 1].T),
    )
