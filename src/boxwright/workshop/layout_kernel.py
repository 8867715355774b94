"""The compiled decision: do these things fit on and in this box, why not, and how small may the box become."""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

import numpy as np
from numba import njit

from boxwright.workshop.layout_geometry import (
    DEEP_DEPTH,
    EPS,
    HALF_U,
    HALF_V,
    HU,
    KIND,
    LA,
    LB,
    RA,
    RB,
    SIDES,
    U0,
    U1,
    WIDE_DEPTH,
    U,
    box_prism,
    free_depth,
    inside_distance,
    place_clear,
)
from boxwright.workshop.layout_search import (
    PLACED_COLUMNS,
    allows,
    find_layout,
    opposite_face,
    set_placed,
)
from boxwright.workshop.layout_spots import SPOTS, spots_on

__all__ = [
    "COLLIDE",
    "FITS",
    "FRAME_TOO_LARGE",
    "INSIDE_GONE",
    "NOT_BESIDE",
    "NO_FACE",
    "NO_OPPOSITE",
    "OPPOSED",
    "TOO_DEEP",
    "fits_in",
    "fits_many",
    "growth",
    "least_stretch_many",
    "least_stretch_one",
    "single_shortfall",
    "why_not",
]

FITS, INSIDE_GONE, NO_FACE, FRAME_TOO_LARGE, TOO_DEEP, NOT_BESIDE, COLLIDE, NO_OPPOSITE = range(8)
OPPOSED = 2
TOLERANCE = 1e-3
"""Of the least size. [m]"""
SCALE = 3
"""The axis that means: all three outer sizes in proportion."""


@njit(cache=True, nogil=True, error_model="numpy")
def single_shortfall(polygon, table, width, wall, is_box, row, edge):
    """Why one thing alone does not go in: 0 it does, 2 no face allowed, 3 frame too large, 4 too deep; and by how much.

    The shortfall is the smallest over the faces allowed. [m]
    """
    n = polygon.shape[0]
    none = n - n  # not a literal, see find_layout
    spots, placed = np.empty((SPOTS, 4)), np.empty((1, PLACED_COLUMNS))
    lines, bounds = np.empty((n + 4, 4)), np.empty(5)
    frame, deep, allowed = np.inf, np.inf, False
    block = row[HALF_V] > 0.0
    for k in range(n + 2):
        if not allows(row, table, k) or (k < n and table[k, U1] - table[k, U0] <= 0.0):
            continue
        allowed = True
        m = row[HALF_U] + (0.0 if block else edge)
        h = row[HALF_V] if block else m
        if k < n:
            across, along = width, table[k, U1] - table[k, U0]
            short = max(2.0 * m - max(across, along), 2.0 * h - min(across, along), 0.0)
        else:
            best = -np.inf
            zlo, zhi, ylo, yhi = np.inf, -np.inf, np.inf, -np.inf
            for e in range(n):
                zlo, zhi = min(zlo, polygon[e, 0]), max(zhi, polygon[e, 0])
                ylo, yhi = min(ylo, polygon[e, 1]), max(yhi, polygon[e, 1])
            for i in range(1 if is_box else 17):
                for j in range(1 if is_box else 17):
                    z = zlo + i / 16.0 * (zhi - zlo)
                    y = ylo + j / 16.0 * (yhi - ylo)
                    best = max(best, inside_distance(polygon, z, y))
            if is_box:
                best = 0.5 * min(zhi - zlo, yhi - ylo)
            short = max(0.0, 2.0 * (h - best))
        if k >= n:
            c = spots_on(
                spots, row, placed, none, k, polygon, table, width, is_box, edge, none > 0, lines, bounds
            )
            fits = False
            for i in range(c):
                set_placed(placed[0], row, none, k, spots[i, 0], spots[i, 1], spots[i, 2], spots[i, 3], wall)
                placed[0, LA], placed[0, LB] = 0.0, 0.0
                fits = fits or place_clear(placed[0], polygon, table, width, edge)
            if fits:
                deep = min(
                    deep, max(row[DEEP_DEPTH], row[WIDE_DEPTH] * (0.0 if block else 1.0)) - wall - width
                )
            else:
                frame = min(frame, max(short, 1e-4))
        elif short > EPS:
            frame = min(frame, short)
        else:
            c = spots_on(
                spots, row, placed, none, k, polygon, table, width, is_box, edge, none > 0, lines, bounds
            )
            for i in range(c):
                set_placed(placed[0], row, none, k, spots[i, 0], spots[i, 1], spots[i, 2], spots[i, 3], wall)
                p = placed[0]
                need = 0.0
                if block:
                    need = p[LB] - free_depth(polygon, table, k, p[U], p[HU])
                else:
                    if p[LA] > 0.0:
                        need = p[LA] - free_depth(polygon, table, k, p[U], p[RA])
                    if p[LB] > 0.0:
                        need = max(need, p[LB] - free_depth(polygon, table, k, p[U], p[RB]))
                deep = min(deep, need)
    if not allowed:
        return 2, math.inf
    if deep <= EPS:
        return 0, 0.0
    if deep < np.inf:
        return 4, deep
    return 3, frame


@njit(cache=True, nogil=True, error_model="numpy")
def fits_in(polygon, table, width, wall, is_box, rows, types, mates, n, edge, patience, placed):
    """0: no way was found; 1: it fits; 2: it fits with equal passives opposed in pairs; fills ``placed``."""
    pairs = False
    for i in range(n):
        if rows[types[i], KIND] == 1.0 and mates[i] < 0:
            for j in range(i):
                pairs = pairs or (types[j] == types[i] and mates[j] < 0)
    for mode in range(3 if pairs else 1, 0, -2):
        if find_layout(
            polygon, table, width, wall, is_box, rows, types, mates, n, edge, mode, patience // mode, placed
        ):
            return 2 if mode == 3 else 1
    return 0


@njit(cache=True, nogil=True, error_model="numpy")
def why_not(polygon, table, width, wall, is_box, rows, types, mates, n, edge, patience, placed):
    """Reason code, the item it is about (or −1) and, where one thing alone is too large, the shortfall. [m]."""
    if width <= 0.0:
        return INSIDE_GONE, -1, -width
    for i in range(n):
        if i > 0 and types[i] == types[i - 1]:
            continue
        code, short = single_shortfall(polygon, table, width, wall, is_box, rows[types[i]], edge)
        if code != 0:
            return code, i, short
    corners = polygon.shape[0]
    for i in range(n):
        if mates[i] > i:
            found = False
            for k in range(corners + 2):
                g = opposite_face(table, k, corners)
                found = found or (
                    g >= 0 and allows(rows[types[i]], table, k) and allows(rows[types[mates[i]]], table, g)
                )
            if not found:
                return NO_OPPOSITE, i, math.inf
    for mode in range(1):
        if find_layout(
            polygon, table, width, wall, is_box, rows, types, mates, n, edge, mode, patience >> mode, placed
        ):
            return COLLIDE, -1, math.nan
    return NOT_BESIDE, -1, math.nan


@njit(cache=True, nogil=True, error_model="numpy")
def _fits_at(size, axis, outer, polygon, table, wall, is_box, rows, types, mates, n, edge, patience, placed):
    """``fits_in`` with one outer size changed (or, for axis 3, all scaled by ``size``)."""
    w, h, d = outer[0], outer[1], outer[2]
    if axis == 0:
        w = size
    elif axis == 1:
        h = size
    elif axis == 2:
        d = size
    else:
        w, h, d = w * size, h * size, d * size
    if w - 2.0 * wall <= 0.0 or (is_box and not box_prism(h, d, wall, polygon, table)):
        return 0
    return fits_in(
        polygon, table, w - 2.0 * wall, wall, is_box, rows, types, mates, n, edge, patience, placed
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _floor_of_box(row, axis, outer, wall, edge):
    """Least outer size along an axis at which one thing alone goes into a box with the other sizes as given."""
    deep = row[DEEP_DEPTH] if row[HALF_V] > 0.0 else max(row[DEEP_DEPTH], row[WIDE_DEPTH])
    margin = 0.0 if row[HALF_V] > 0.0 else edge
    a = 2.0 * (row[HALF_U] + margin + wall)
    b = 2.0 * (row[HALF_V] + wall) if row[HALF_V] > 0.0 else a
    best = np.inf
    for side in range(6):
        if (int(row[SIDES]) >> side) & 1 == 0:
            continue
        across = 2 if side < 2 else 0 if side < 4 else 1
        p, q = (0, 1) if across == 2 else (1, 2) if across == 0 else (0, 2)
        if axis != across and outer[across] < deep + wall - EPS:
            continue
        for turn in range(2 if b < a else 1):
            s, t = (a, b) if turn == 0 else (b, a)
            if (axis != p and outer[p] < s - EPS) or (axis != q and outer[q] < t - EPS):
                continue
            best = min(best, deep + wall if axis == across else s if axis == p else t)
    return best


@njit(cache=True, nogil=True, error_model="numpy")
def least_stretch_one(
    axis, outer, polygon, table, wall, is_box, rows, types, mates, n, edge, patience, placed
):
    """Least outer size (for axis 3: least share of the sizes) at which everything fits, the other sizes full.

    Parameters
    ----------
    axis : int
        0 width, 1 height, 2 depth, 3 all in proportion; only 0 when the shape is not a box.
    outer : ndarray
        Full outer width, height and depth. [m]
    polygon, table : ndarray
        Of the prism; overwritten for a box.
    patience : int
        Places tried at each size.
    placed : ndarray
        Room for a placement.

    Returns
    -------
    tuple
        The size, NaN if it does not even fit into the full one; the reason code; the item it is about; the shortfall.
        Right to a millimetre (a thousandth), on the safe side. [m]
    """
    full = 1.0 if axis == SCALE else outer[axis]
    low = 2.0 * wall
    if axis == SCALE:
        low = 2.0 * wall / min(outer[0], outer[1], outer[2])
    elif is_box:
        for i in range(n):
            low = max(low, _floor_of_box(rows[types[i]], axis, outer, wall, edge))
    if low <= full:
        # What one thing alone asks for is often all that is needed: try that first.
        sized = low > 2.0 * wall and axis != SCALE
        for size in (low + EPS, full):
            if (size == full or sized) and _fits_at(
                size, axis, outer, polygon, table, wall, is_box, rows, types, mates, n, edge, patience, placed
            ) > 0:
                high = size
                while size == full and high - low > TOLERANCE:
                    middle = 0.5 * (low + high)
                    fits = _fits_at(
                        middle,
                        axis,
                        outer,
                        polygon,
                        table,
                        wall,
                        is_box,
                        rows,
                        types,
                        mates,
                        n,
                        edge,
                        patience,
                        placed,
                    )
                    low, high = (low, middle) if fits > 0 else (middle, high)
                return high, FITS, -1, 0.0
    if is_box and not box_prism(outer[1], outer[2], wall, polygon, table):
        return math.nan, INSIDE_GONE, -1, math.nan
    code, item, short = why_not(
        polygon, table, outer[0] - 2.0 * wall, wall, is_box, rows, types, mates, n, edge, patience, placed
    )
    return math.nan, code, item, short


@njit(cache=True, nogil=True, error_model="numpy")
def least_stretch_many(
    axis, outer, polygon, table, wall, is_box, rows, sets, mates, edge, patience, size, code, short
):
    """``least_stretch_one`` over many sets of items.

    Parameters
    ----------
    rows : ndarray
        Kinds of items, shape (kinds, 8).
    sets, mates : ndarray of int
        Kinds of a set's items, −1 from its end on, shape (sets, most items); partners of forced pairs, or −1.
    size, code, short : ndarray
        Room for the answers, shape (sets,).
    """
    most = sets.shape[1]
    placed = np.empty((most, PLACED_COLUMNS))
    own_polygon, own_table = polygon.copy(), table.copy()
    for s in range(sets.shape[0]):
        n = 0
        while n < most and sets[s, n] >= 0:
            n += 1
        size[s], code[s], _, short[s] = least_stretch_one(
            axis,
            outer,
            own_polygon,
            own_table,
            wall,
            is_box,
            rows,
            sets[s],
            mates[s],
            n,
            edge,
            patience,
            placed,
        )


@njit(cache=True, nogil=True, error_model="numpy")
def fits_many(outer, polygon, table, wall, is_box, rows, sets, mates, edge, patience, answer):
    """``fits_in`` over many sets of items, each in a box of its own outer size ``outer[s]``.

    Of a shape that is no box only the width may differ; see ``least_stretch_many`` for the rest.
    """
    most = sets.shape[1]
    placed = np.empty((most, PLACED_COLUMNS))
    own_polygon, own_table = polygon.copy(), table.copy()
    for s in range(sets.shape[0]):
        n = 0
        while n < most and sets[s, n] >= 0:
            n += 1
        answer[s] = _fits_at(
            outer[s, 0], n - n, outer[s], own_polygon, own_table, wall, is_box, rows, sets[s], mates[s], n, edge,
            patience, placed,
        )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def growth(axis, outer, polygon, table, wall, is_box, rows, types, mates, n, edge, patience, most):
    """How much more of an outer size would make everything fit, up to ``most``; infinite: not even that. [m]."""
    placed = np.empty((n, PLACED_COLUMNS))
    own_polygon, own_table = polygon.copy(), table.copy()
    low, high = 0.0, min(0.01, most)
    found = False
    while not found or high - low > TOLERANCE:
        more = 0.5 * (low + high) if found else high
        fits = _fits_at(
            outer[axis] + more, axis, outer, own_polygon, own_table, wall, is_box, rows, types, mates, n, edge,
            patience, placed,
        )  # fmt: skip
        if fits > 0:
            found, high = True, more
        elif not found and high >= most:
            return math.inf
        else:
            low = more
            high = high if found else min(2.0 * high, most)
    return high
