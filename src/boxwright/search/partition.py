"""The partition of a bandpass box: the driver sits on it, between the two chambers, not on an outer face."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boxwright.design import BoxPlan
from boxwright.errors import DoesNotFit
from boxwright.search.geometry import Geometry, Pieces
from boxwright.search.tables import DriverRow
from boxwright.search.wood import plans_along
from boxwright.workshop.carcass import WASTE
from boxwright.workshop.prism import prism_of
from boxwright.workshop.ventroom import inscribed_box

__all__ = ["Partition", "front_half", "partition_for", "with_panel"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """A panel across one inner side of the box, and what it takes to carry each driver.

    Attributes
    ----------
    volumes : ndarray, shape (n,)
        Inside volumes that the sides are known for. [m³]
    sides : ndarray, shape (axes, ways, 3, n)
        Inner length across which the panel stands, and the longer and the shorter side of the panel: for each axis
        along which the space may shrink, and each way the panel may stand. [m]
    frames, depths : ndarray, shape (nd,)
        Frame diameter of each driver, and how deep it reaches behind the panel with the air it needs. [m]
    counts : ndarray of int, shape (nd,)
        Drivers side by side on the panel.
    wall, edge : float
        [m]
    volume, weight, price : float
        Of the panel, at its largest. [m³], [kg], [currency]
    """

    volumes: Real
    sides: Real
    frames: Real
    depths: Real
    counts: Whole
    wall: float
    edge: float
    volume: float
    weight: float
    price: float

    def takes(self, driver: Whole, inside: Real, share: Real) -> NDArray[np.bool_]:
        """Whether some panel carries the drivers with a chamber behind it that is deep enough, shape (axes, n).

        Parameters
        ----------
        driver : ndarray of int, shape (n,)
        inside : ndarray, shape (n,)
            [m³]
        share : ndarray, shape (n,)
            Of the air behind the cone. [-]
        """
        found = np.zeros((self.sides.shape[0], inside.size), bool)
        for axis, ways in enumerate(self.sides):
            for way in ways:
                length, long, short = (np.interp(inside, self.volumes, side) for side in way)
                found[axis] |= self._carries(driver, share, length, long, short)
        return found

    def _carries(
        self, driver: Whole, share: Real, length: Real, long: Real, short: Real
    ) -> NDArray[np.bool_]:
        frame, count = self.frames[driver], self.counts[driver]
        across = np.where(count == 4, 2, 1)  # four stand two by two, up to three in a row
        along = np.where(count == 4, 2, count)
        wide = (long >= along * frame + (along + 1) * self.edge) & (
            short >= across * frame + (across + 1) * self.edge
        )
        return np.asarray(wide & (share * (length - self.wall) >= self.depths[driver]))

    def front_of(self, plan: BoxPlan, share: float, driver: int) -> BoxPlan:
        """The part of a box before the panel that carries a driver, as a box of its own.

        Raises
        ------
        DoesNotFit
            If no panel carries it.
        """
        one = np.array([driver])
        for axis, length, long, short in _ways(plan):
            if self._carries(one, np.array([share]), *(np.array([side]) for side in (length, long, short)))[
                0
            ]:
                return _cut(plan, axis, length, share)
        raise DoesNotFit("no partition carries the drivers with a deep enough chamber behind it")


def _ways(plan: BoxPlan) -> list[tuple[str, float, float, float]]:
    """Ways a panel may stand: axis it stands across, inner length there, longer and shorter side of the panel. [m].

    Across any side of a box, the longest first; across the width of every other shape.
    """
    prism = prism_of(plan)
    height, depth, _ = inscribed_box(prism)
    if not prism.is_box:
        return [("width", prism.width, max(height, depth), min(height, depth))]
    sides = sorted(((prism.width, "width"), (height, "height"), (depth, "depth")), reverse=True)
    ways = []
    for k, (length, axis) in enumerate(sides):
        panel = [side for j, (side, _) in enumerate(sides) if j != k]
        ways.append((axis, length, panel[0], panel[1]))
    return ways


def _cut(plan: BoxPlan, axis: str, length: float, share: float) -> BoxPlan:
    size = (1.0 - share) * (length - plan.wall) + 2.0 * plan.wall
    if axis == "height":
        return replace(plan, height=size)
    return replace(plan, depth=size) if axis == "depth" else replace(plan, width=size)


def front_half(plan: BoxPlan) -> BoxPlan:
    """The front half of a box across its longest side, as a box of its own."""
    axis, length, _, _ = _ways(plan)[0]
    return _cut(plan, axis, length, 0.5)


def partition_for(geometry: Geometry, pieces: Pieces) -> Partition:
    """The partition for the boxes of a space and the drivers of a task."""
    by_axis: list[list[list[tuple[float, float, float]]]] = [[] for _ in geometry.axes]
    for volume in geometry.volumes:
        plans = plans_along(geometry.space, geometry.sheet, min(float(volume), geometry.capacity))
        for found, plan in zip(by_axis, plans, strict=True):
            ways = (
                [(length, long, short) for _, length, long, short in _ways(plan)] if plan is not None else []
            )
            found.append(ways)
    most = max(len(ways) for found in by_axis for ways in found)
    none = [(0.0, 0.0, 0.0)] * most
    sides = np.array([[ways or none for ways in found] for found in by_axis]).transpose(0, 2, 3, 1)
    panel = float((sides[:, 0, 1, -1] * sides[:, 0, 2, -1]).max())
    sheet = geometry.sheet
    drivers = [pieces.kinds[k] for k in pieces.driver]
    return Partition(
        volumes=geometry.volumes,
        sides=sides,
        frames=np.array([d.frame_diameter for d in drivers]),
        depths=np.array([max(d.depth + d.clearance, d.shoulder_depth) for d in drivers]),
        counts=pieces.drivers,
        wall=geometry.wall,
        edge=geometry.limits.edge,
        volume=panel * geometry.wall,
        weight=panel * geometry.wall * sheet.density,
        price=(sheet.price or 0.0) * panel / (1.0 - WASTE) / (sheet.length * sheet.width),
    )


def with_panel(table: Real, partition: Partition) -> Real:
    """The driver table with the partition's volume, weight and price added to each row."""
    own = table.copy()
    for name in ("price", "weight"):
        own[:, DriverRow._fields.index(name)] += getattr(partition, name)
    own[:, DriverRow._fields.index("displacement")] += partition.volume
    return own
