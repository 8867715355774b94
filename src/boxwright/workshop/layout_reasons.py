"""Why one thing alone does not go in a box, and by how much.

Asked for one set of things at a time, so plain Python: it calls the compiled tests of the layout one by one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from boxwright.workshop.layout_geometry import (
    BLOCK,
    DEEP_DEPTH,
    EPS,
    HALF_U,
    HALF_V,
    HU,
    LA,
    LB,
    RA,
    RB,
    U0,
    U1,
    WIDE_DEPTH,
    U,
    free_depth,
    inside_distance,
    place_clear,
)
from boxwright.workshop.layout_search import PLACED_COLUMNS, allows, opposite_face, set_placed
from boxwright.workshop.layout_spots import SPOTS, spots_on

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from boxwright.workshop.prism import Prism

    Real = NDArray[np.float64]
    Whole = NDArray[np.int64]

__all__ = [
    "COLLIDE",
    "FITS",
    "FRAME_TOO_LARGE",
    "INSIDE_GONE",
    "NOT_BESIDE",
    "NO_FACE",
    "NO_OPPOSITE",
    "TOO_DEEP",
    "first_misfit",
]

FITS, INSIDE_GONE, NO_FACE, FRAME_TOO_LARGE, TOO_DEEP, NOT_BESIDE, COLLIDE, NO_OPPOSITE = range(8)
_SAMPLES = 17
_LEAST = 1e-4  # a frame that is too large is so by a tenth of a millimetre at least


def first_misfit(prism: Prism, rows: Real, types: Whole, mates: Whole, edge: float) -> tuple[int, int, float]:
    """The first thing that the box does not take even alone: reason, index (−1: none) and shortfall. [m].

    Parameters
    ----------
    prism : Prism
    rows, types, mates : ndarray
        Kinds of items; kind of each item; its forced partner, or −1.
    edge : float
        Least distance of frames from the inner walls. [m]
    """
    for i, kind in enumerate(types):
        if i == 0 or kind != types[i - 1]:
            code, short = _alone(prism, rows[kind], edge)
            if code != FITS:
                return code, i, short
    corners = len(prism.polygon)
    for i, mate in enumerate(mates):
        if mate > i:
            across = ((k, opposite_face(prism.table, k, corners)) for k in range(corners + 2))
            if not any(
                g >= 0
                and allows(rows[types[i]], prism.table, k)
                and allows(rows[types[mate]], prism.table, g)
                for k, g in across
            ):
                return NO_OPPOSITE, i, math.inf
    return FITS, -1, 0.0


def _alone(prism: Prism, row: Real, edge: float) -> tuple[int, float]:
    """Why one thing alone does not go in, and the least it lacks on any face allowed. [m]."""
    table = prism.table
    frame, deep = math.inf, math.inf
    usable = [
        k
        for k in range(len(table))
        if allows(row, table, k) and (k >= len(prism.polygon) or table[k, U1] > table[k, U0])
    ]
    if not usable:
        return NO_FACE, math.inf
    for k in usable:
        lacks = _frame_lacks(prism, row, k, edge)
        across = k >= len(prism.polygon)
        if not across and lacks > EPS:
            frame = min(frame, lacks)
            continue
        places = list(_places(prism, row, k, edge))
        if not across:
            deep = min([deep, *(_depth_lacks(prism, place, k) for place in places)])
        elif any(_frame_clear(prism, place, edge) for place in places):
            need = row[DEEP_DEPTH] if row[HALF_V] > 0.0 else max(row[DEEP_DEPTH], row[WIDE_DEPTH])
            deep = min(deep, float(need) - prism.wall - prism.width)
        else:
            frame = min(frame, max(lacks, _LEAST))
    if deep <= EPS:
        return FITS, 0.0
    return (TOO_DEEP, deep) if math.isfinite(deep) else (FRAME_TOO_LARGE, frame)


def _frame_lacks(prism: Prism, row: Real, k: int, edge: float) -> float:
    """How much a frame is larger than face k; on left and right roughly, from samples of the polygon. [m]."""
    block = row[HALF_V] > 0.0
    m = float(row[HALF_U]) + (0.0 if block else edge)
    h = float(row[HALF_V]) if block else m
    polygon = prism.polygon
    if k < len(polygon):
        across, along = prism.width, float(prism.table[k, U1] - prism.table[k, U0])
        return max(2.0 * m - max(across, along), 2.0 * h - min(across, along), 0.0)
    low, high = polygon.min(axis=0), polygon.max(axis=0)
    if prism.is_box:
        best = 0.5 * float((high - low).min())
    else:
        zs, ys = (np.linspace(low[axis], high[axis], _SAMPLES) for axis in (0, 1))
        best = max(inside_distance(polygon, z, y) for z in zs for y in ys)
    return max(0.0, 2.0 * (h - best))


def _places(prism: Prism, row: Real, k: int, edge: float) -> Iterator[Real]:
    """The thing placed at each spot of face k in turn."""
    polygon, table = prism.polygon, prism.table
    spots, placed = np.empty((SPOTS, 4)), np.empty((1, PLACED_COLUMNS))
    lines, bounds = np.empty((len(polygon) + 4, 4)), np.empty(5)
    count = spots_on(
        spots, row, placed, 0, k, polygon, table, prism.width, prism.is_box, edge, False, lines, bounds
    )
    for u, v, hu, hv in spots[:count]:
        place = np.empty(PLACED_COLUMNS)
        set_placed(place, row, 0, k, u, v, hu, hv, prism.wall)
        yield place


def _frame_clear(prism: Prism, place: Real, edge: float) -> bool:
    """Whether a frame lies within its face, however deep the thing is."""
    place[LA], place[LB] = 0.0, 0.0
    return bool(place_clear(place, prism.polygon, prism.table, prism.width, edge))


def _depth_lacks(prism: Prism, place: Real, k: int) -> float:
    """How much deeper a thing is than the box is behind its place on an edge face; 0 or less: it is not. [m]."""

    def lacks(length: int, half: int) -> float:
        return float(place[length]) - float(free_depth(prism.polygon, prism.table, k, place[U], place[half]))

    if place[BLOCK] > 0.0:
        return lacks(LB, HU)
    return max((lacks(a, b) for a, b in ((LA, RA), (LB, RB)) if place[a] > 0.0), default=0.0)
