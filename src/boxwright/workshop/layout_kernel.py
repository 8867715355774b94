"""The compiled decision: do these things fit on and in this box, and how small may the box become.

One compiled entry for all of it, and no more levels than needed: each level compiles all below it once more, which
is what a first search on a new machine waits for.
"""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import numpy as np
from numba import njit

from boxwright.workshop.layout_geometry import (
    DEEP_DEPTH,
    EPS,
    HALF_U,
    HALF_V,
    KIND,
    SIDES,
    WIDE_DEPTH,
    box_prism,
)
from boxwright.workshop.layout_search import find_layout

__all__ = ["OPPOSED", "SCALE", "TOLERANCE", "settle"]

OPPOSED = 2
TOLERANCE = 1e-3
"""Of the least size. [m]"""
SCALE = 3
"""The axis that means: all three outer sizes in proportion."""

# Used at one place each: taken into the function there before it is compiled, not compiled on their own.
_part = njit(inline="always", error_model="numpy")


@_part
def _fits_at(
    size, axis, outer, polygon, table, wall, is_box, rows, types, mates, n, edge, patience, bodies, placed
):
    """Whether n things fit with one outer size changed (or, for axis 3, all scaled by ``size``), as in ``settle``."""
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
    pairs = False
    for i in range(n):
        if bodies and rows[types[i], KIND] == 1.0 and mates[i] < 0:
            for j in range(i):
                pairs = pairs or (types[j] == types[i] and mates[j] < 0)
    mode = 3 if pairs else 1 if bodies else 0
    while mode >= 0:
        if find_layout(
            polygon, table, w - 2.0 * wall, wall, is_box, rows, types, mates, n, edge, mode,
            patience // max(mode, 1), placed,
        ):  # fmt: skip
            return 2 if mode == 3 else 1
        mode -= 2
    return 0


@_part
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
def settle(
    axis, outer, polygon, table, wall, is_box, rows, sets, mates, edge, patience, bodies, least, size, ways, placed
):  # fmt: skip
    """Whether each set of items fits into its box, or the least outer size along an axis at which it does.

    Parameters
    ----------
    axis : int
        0 width, 1 height, 2 depth, 3 all in proportion; only 0 when the shape is not a box.
    outer : ndarray, shape (sets, 3)
        Outer width, height and depth. [m]
    polygon, table : ndarray
        Of the prism; overwritten for a box.
    rows : ndarray, shape (kinds, 8)
        Kinds of items.
    sets, mates : ndarray of int, shape (sets, most items)
        Kinds of a set's items, −1 from its end on; partners of forced pairs, or −1.
    edge : float
        Least distance of frames from the inner walls and each other. [m]
    patience : int
        Places tried at each size.
    bodies : bool
        Whether what is behind the faces has to stay clear too.
    least : bool
        Look for the least size along the axis, the others as given; else only whether it fits into the size given.
    size : ndarray, shape (sets,)
        Written: the size (for axis 3 the share of all sizes) at which it fits, NaN if it does not even fit into the
        full one. The least one is right to a millimetre (a thousandth), on the safe side. [m]
    ways : ndarray of int, shape (sets,)
        Written: 0 no way was found, 1 it fits, 2 with equal passives opposed in pairs.
    placed : ndarray, shape (most items, PLACED_COLUMNS)
        Written: the placement of the last set, if it fits.
    """
    for s in range(sets.shape[0]):
        types, partners, sizes = sets[s], mates[s], outer[s]
        n = 0
        while n < types.shape[0] and types[n] >= 0:
            n += 1
        full = 1.0 if axis == SCALE else sizes[axis]
        low = full
        if least:
            low = 2.0 * wall
            if axis == SCALE:
                low = 2.0 * wall / min(sizes[0], sizes[1], sizes[2])
            elif is_box:
                for i in range(n):
                    low = max(low, _floor_of_box(rows[types[i]], axis, sizes, wall, edge))
        size[s], ways[s] = np.nan, 0
        # What one thing alone asks for is often all that is needed: that first, then the full size, then between.
        alone = least and low > 2.0 * wall and axis != SCALE
        high = np.inf
        while low <= full and high - low > TOLERANCE:
            trial = low + EPS if alone else min(full, 0.5 * (low + high))
            way = _fits_at(
                trial, axis, sizes, polygon, table, wall, is_box, rows, types, partners, n, edge, patience, bodies,
                placed,
            )  # fmt: skip
            if way > 0:
                size[s], ways[s], high = trial, way, trial
                if alone:
                    break
            elif alone:
                alone = False
            elif high > full:
                break
            else:
                low = trial
