"""Placing cones and vents on the faces of a box: where everything goes, or why not and by how much."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from boxwright.brief import Space
from boxwright.errors import InputError
from boxwright.workshop import layout_kernel as kernel
from boxwright.workshop.items import Item
from boxwright.workshop.layout_reasons import COLLIDE, FITS, NOT_BESIDE, first_misfit
from boxwright.workshop.layout_search import PATIENCE, PLACED_COLUMNS, QUICK
from boxwright.workshop.layout_words import (
    MOST_GROWTH,
    REASONS,
    Packed,
    check_edge,
    checked_sets,
    in_words,
    packed_items,
)
from boxwright.workshop.prism import Prism, faces, prism_of
from boxwright.workshop.shape import GOLDEN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from boxwright.design import BoxPlan

    Real = NDArray[np.float64]
    Whole = NDArray[np.int64]

__all__ = [
    "REASONS",
    "Item",
    "Layout",
    "Place",
    "Stretch",
    "fits_many",
    "lay_out",
    "least_golden",
    "least_stretch",
    "least_stretches",
]

AXES = ("width", "height", "depth")
Axis = Literal["width", "height", "depth"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one item sits.

    Attributes
    ----------
    item : int
        Index among the items.
    face, side : str
        Name of the face, and its side of FACES.
    u, v : float
        Of its centre in the face's frame. [m]
    half_u, half_v : float
        Half sizes of its frame there. [m]
    point : tuple of float
        Its centre on the outer surface: x, y, z from the lower left front corner of the envelope. [m]
    inward : tuple of float
        Unit vector into the box.
    """

    item: int
    face: str
    side: str
    u: float
    v: float
    half_u: float
    half_v: float
    point: tuple[float, float, float]
    inward: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Places for everything, or a reason.

    Attributes
    ----------
    places : tuple of Place
        In the order of the items; empty when it does not fit.
    opposed : tuple of (int, int)
        Items that sit straight opposite each other, so that their reaction forces cancel.
    reason : str
        Empty when it fits.
    code : int
        Index into REASONS.
    shortfall : float
        How much is missing; infinite when more room would not help. [m]
    growth : tuple of (str, float)
        Outer sizes of which that much more, of one alone, would do; empty where one thing alone is too large. [m]
    """

    places: tuple[Place, ...] = ()
    opposed: tuple[tuple[int, int], ...] = ()
    reason: str = ""
    code: int = 0
    shortfall: float = 0.0
    growth: tuple[tuple[str, float], ...] = ()

    @property
    def fits(self) -> bool:
        """Whether everything has a place."""
        return self.code == FITS


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The least outer size along an axis.

    Attributes
    ----------
    size : float
        NaN when it does not fit even at the full size. [m]
    reason : str
        Empty when it fits.
    shortfall : float
        [m]
    """

    size: float
    reason: str = ""
    shortfall: float = 0.0


def _settled(
    prism: Prism,
    outer: Real,
    rows: Real,
    sets: Whole,
    mates: Whole,
    edge: float,
    *,
    axis: int = 0,
    least: bool = False,
    bodies: bool = True,
    patience: int = PATIENCE,
) -> tuple[Real, Whole, Real]:
    """Sizes and ways of ``kernel.settle`` for boxes of the outer sizes given, and the last placement."""
    size, ways = np.empty(len(sets)), np.empty(len(sets), np.int64)
    placed = np.zeros((sets.shape[1], PLACED_COLUMNS))
    kernel.settle(
        axis, np.array(np.broadcast_to(outer, (len(sets), 3)), order="C"), prism.polygon.copy(), prism.table.copy(),
        float(prism.wall), prism.is_box, rows, sets, mates, float(edge), patience, bodies, least, size, ways, placed,
    )  # fmt: skip
    return size, ways, placed


def _growth(thing: BoxPlan | Space, prism: Prism, packed: Packed, edge: float) -> dict[str, float]:
    """How much more of each outer size alone would make everything fit; infinite: not even ``MOST_GROWTH``. [m]."""
    outer = np.array([thing.width, thing.height, thing.depth])

    def fits(axis: int, more: float) -> bool:
        larger = outer.copy()
        larger[axis] += more
        return bool(_settled(prism, larger, packed.rows, packed.sets, packed.partners, edge)[1][0])

    found = {}
    for axis, name in enumerate(AXES if prism.is_box else AXES[:1]):
        low, high = 0.0, 0.01
        while not fits(axis, high) and high < MOST_GROWTH:
            low, high = high, min(2.0 * high, MOST_GROWTH)
        if high >= MOST_GROWTH and not fits(axis, high):
            high = math.inf
        while math.isfinite(high) and high - low > kernel.TOLERANCE:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if fits(axis, middle) else (middle, high)
        found[name] = high
    return found


def lay_out(plan: BoxPlan, items: Sequence[Item], *, edge: float) -> Layout:
    """Find a place for every item, or say why there is none.

    Parameters
    ----------
    plan : BoxPlan
        Its outer shape and wall.
    items : sequence of Item
        At most twelve. Equal passives are set opposite each other in pairs where that can be done.
    edge : float
        Least distance of a frame from the inner walls and of frames from each other. [m]

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        If the plan's shape is not one, or the items contradict themselves.
    DoesNotFit
        If the walls leave nothing inside.

    Notes
    -----
    A bounded search: a layout that it returns is sound; in a very tight box it may miss one.
    """
    check_edge(edge)
    packed = packed_items(items)
    prism = prism_of(plan)
    outer = np.array([plan.width, plan.height, plan.depth])
    everything = (prism, outer, packed.rows, packed.sets, packed.partners, edge)
    _, ways, placed = _settled(*everything)
    if ways[0] == 0:
        code, about, short = first_misfit(prism, packed.rows, packed.types, packed.mates, edge)
        growth = {}
        if code == FITS:
            _, ways, _ = _settled(*everything, bodies=False)
            code = COLLIDE if ways[0] else NOT_BESIDE
            growth = _growth(plan, prism, packed, edge)
        reason, missing = in_words(code, about, short, items, prism.wall, growth)
        more = tuple((name, value) for name, value in growth.items() if math.isfinite(value))
        return Layout(reason=reason, code=code, shortfall=missing, growth=more)
    every = faces(plan)
    places = []
    for p in placed[np.argsort(placed[:, 10])]:
        face = every[int(p[0])]
        places.append(
            Place(
                item=int(p[10]), face=face.name, side=face.side, u=float(p[1]), v=float(p[2]), half_u=float(p[3]),
                half_v=float(p[4]), point=face.point(float(p[1]), float(p[2]), -prism.wall), inward=face.inward,
            )
        )  # fmt: skip
    return Layout(places=tuple(places), opposed=_opposed(places, items))


def _opposed(places: Sequence[Place], items: Sequence[Item]) -> tuple[tuple[int, int], ...]:
    """Pairs of equal items whose axes coincide and whose directions are opposite."""
    pairs = []
    for i, a in enumerate(places):
        for j in range(i + 1, len(places)):
            b = places[j]
            if items[i].row[:7] != items[j].row[:7] or items[i].kind == "vent":
                continue
            if sum(p * q for p, q in zip(a.inward, b.inward, strict=True)) > -1.0 + 1e-9:
                continue
            apart = [q - p for p, q in zip(a.point, b.point, strict=True)]
            along = sum(d * e for d, e in zip(apart, a.inward, strict=True))
            if math.dist(apart, [along * e for e in a.inward]) < 1e-6:
                pairs.append((i, j))
    return tuple(pairs)


def least_stretches(
    space: Space,
    wall: float,
    axis: Axis,
    kinds: Sequence[Item],
    sets: NDArray[np.int64],
    *,
    edge: float,
    mates: NDArray[np.int64] | None = None,
    patience: int = QUICK,
) -> Real:
    """Smallest outer size along an axis, the others full, for many sets of items.

    Parameters
    ----------
    space : Space
        Of shape box (any axis), wedge or profile (width only).
    wall : float
        [m]
    axis : str
        width, height or depth.
    kinds : sequence of Item
        Every kind that occurs; ``opposed_with`` is not read here.
    sets : ndarray of int
        Kinds of each set's items, −1 after its last; shape (sets, most items).
    edge : float
        [m]
    mates : ndarray of int, optional
        Position within the set of each item's forced opposite, or −1; shape as sets.
    patience : int
        Places tried at each size; whatever is found with less patience is found with more.

    Returns
    -------
    ndarray
        Size, NaN where it does not even fit into the full one. Shape (sets,). [m]
    """
    check_edge(edge)
    if axis != "width" and space.shape != "box":
        raise InputError(f"axis must be width for a {space.shape}, got {axis}")
    prism = prism_of(space, wall)
    sets, partners = checked_sets(sets, mates, len(kinds))
    rows = np.array([kind.row for kind in kinds])
    outer = np.array([space.width, space.height, space.depth])
    size, *_ = _settled(
        prism, outer, rows, sets, partners, edge, axis=AXES.index(axis), least=True, patience=patience
    )
    return size


def fits_many(
    space: Space,
    wall: float,
    outer: NDArray[np.float64],
    kinds: Sequence[Item],
    sets: NDArray[np.int64],
    *,
    edge: float,
    mates: NDArray[np.int64] | None = None,
    patience: int = QUICK,
) -> NDArray[np.int64]:
    """Whether many sets of items fit, each into a box of its own size.

    Parameters
    ----------
    space : Space
        Gives the shape; for a wedge or profile only the widths in ``outer`` count.
    outer : ndarray
        Outer width, height and depth for each set, shape (sets, 3). [m]
    wall, kinds, sets, edge, mates, patience
        As of ``least_stretches``.

    Returns
    -------
    ndarray
        0: no way was found; 1: it fits; 2: with equal passives opposed in pairs. Shape (sets,).
    """
    check_edge(edge)
    prism = prism_of(space, wall)
    sets, partners = checked_sets(sets, mates, len(kinds))
    sizes = np.asarray(outer, dtype=np.float64)
    if sizes.shape != (len(sets), 3):
        raise InputError(f"outer must have a width, height and depth for each set, got shape {sizes.shape}")
    rows = np.array([kind.row for kind in kinds])
    _, ways, _ = _settled(prism, sizes, rows, sets, partners, edge, patience=patience)
    return ways


def least_stretch(space: Space, wall: float, axis: Axis, items: Sequence[Item], *, edge: float) -> Stretch:
    """``least_stretches`` for one set of items, with the reason in words."""
    packed = packed_items(items)
    size = least_stretches(
        space,
        wall,
        axis,
        items,
        np.arange(len(items))[None, :],
        edge=edge,
        mates=packed.partners,
        patience=PATIENCE,
    )
    if math.isfinite(size[0]):
        return Stretch(size=float(size[0]))
    from boxwright.design import BoxPlan

    plan = BoxPlan(
        shape=space.shape if space.shape != "volume" else "box", width=space.width, height=space.height,
        depth=space.depth, depth_top=space.depth_top, profile=space.profile, wall=wall,
    )  # fmt: skip
    layout = lay_out(plan, items, edge=edge)
    return Stretch(size=math.nan, reason=layout.reason, shortfall=layout.shortfall)


def least_golden(wall: float, items: Sequence[Item], *, edge: float) -> tuple[float, float, float]:
    """Outer width, height and depth, in the golden ratio, of the least box that has room for the items. [m].

    For a space without sizes; NaN when even four metres would not do.
    """
    packed = packed_items(items)
    check_edge(edge)
    largest = 4.0 / GOLDEN[0]
    sizes = (GOLDEN[2] * largest, GOLDEN[0] * largest, GOLDEN[1] * largest)
    space = Space(width=sizes[0], height=sizes[1], depth=sizes[2])
    prism = prism_of(space, wall)
    (share,), *_ = _settled(
        prism, np.array(sizes), packed.rows, packed.sets, packed.partners, edge, axis=kernel.SCALE, least=True
    )
    return (float(share * sizes[0]), float(share * sizes[1]), float(share * sizes[2]))
