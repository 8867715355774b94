"""The compiled search for one arrangement of things on and in a box.

The search is a depth-first one over units (a thing, or an opposed pair) and the places of ``layout_spots``, the
largest first, bounded by a number of tried places: it never calls a wrong layout right, and may miss a
right one in a tight box.
"""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import numpy as np
from numba import njit

from boxwright.workshop.layout_geometry import (
    BLOCK,
    DEEP_DEPTH,
    DEEP_R,
    DY,
    DZ,
    EPS,
    FACE,
    HALF_U,
    HALF_V,
    HU,
    HV,
    ITEM,
    KIND,
    LA,
    LB,
    NY,
    NZ,
    OY,
    OZ,
    PLACED_COLUMNS,
    RA,
    RB,
    SIDE,
    SIDES,
    U0,
    U1,
    WIDE_DEPTH,
    WIDE_R,
    U,
    V,
    bodies_clear,
    frames_clear,
    part_bounds,
    place_clear,
)
from boxwright.workshop.layout_spots import SPOTS, spots_on

__all__ = [
    "MOST_ITEMS",
    "PATIENCE",
    "PLACED_COLUMNS",
    "QUICK",
    "allows",
    "find_layout",
    "opposite_face",
    "placement_clear",
    "set_placed",
]

MOST_ITEMS = 12
PATIENCE = 6000
"""Places tried before an arrangement counts as not found. More patience only ever finds more."""
QUICK = 800
"""The same for the many checks of a search."""


@njit(cache=True, nogil=True, error_model="numpy")
def opposite_face(table, k, n):
    """The face straight across from k, or −1."""
    if k >= n:
        return 2 * n + 1 - k
    best, found = EPS, -1
    for e in range(n):
        if table[e, DZ] * table[k, DZ] + table[e, DY] * table[k, DY] > -1.0 + 1e-9:
            continue
        a = (table[k, OZ] - table[e, OZ]) * table[e, DZ] + (table[k, OY] - table[e, OY]) * table[e, DY]
        across = (table[e, OZ] - table[k, OZ]) * table[k, NZ] + (table[e, OY] - table[k, OY]) * table[k, NY]
        shared = min(a - table[k, U0], table[e, U1]) - max(a - table[k, U1], table[e, U0])
        if across > 0.0 and shared > best:
            best, found = shared, e
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def set_placed(p, row, item, k, u, v, hu, hv, wall):
    """Write one placed thing into its row ``p``."""
    p[FACE], p[U], p[V], p[HU], p[HV], p[ITEM] = k, u, v, hu, hv, item
    p[BLOCK] = 1.0 if row[HALF_V] > 0.0 else 0.0
    p[RA], p[RB] = row[WIDE_R], row[DEEP_R]
    p[LA] = 0.0 if row[HALF_V] > 0.0 else row[WIDE_DEPTH] - wall
    p[LB] = row[DEEP_DEPTH] - wall
    if p[RA] <= p[RB] and p[LA] <= p[LB]:
        p[LA] = 0.0  # the wide part lies within the deep one


@njit(cache=True, nogil=True, error_model="numpy")
def _set_partner(placed, count, row, item, g, table, corners, wall):
    """Write the partner of the thing in row ``count`` into the next row: straight across, on face g."""
    k, u = int(placed[count, FACE]), placed[count, U]
    if k < corners:
        z, y = table[k, OZ] + u * table[k, DZ], table[k, OY] + u * table[k, DY]
        u = (z - table[g, OZ]) * table[g, DZ] + (y - table[g, OY]) * table[g, DY]
    set_placed(placed[count + 1], row, item, g, u, placed[count, V], row[HALF_U], row[HALF_U], wall)


@njit(cache=True, nogil=True, error_model="numpy")
def placement_clear(placed, count, polygon, table, width, edge, bodies):
    """Whether the last placed thing is clear of its walls and of everything placed before it."""
    p = placed[count - 1]
    for j in range(count - 1):
        if placed[j, FACE] == p[FACE] and not frames_clear(p, placed[j], edge):
            return False
    if not place_clear(p, polygon, table, width, edge):
        return False
    part_bounds(p, polygon, table, width)
    if bodies:
        for j in range(count - 1):
            if placed[j, FACE] != p[FACE] and not bodies_clear(p, placed[j], polygon.shape[0]):
                return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def allows(row, table, k):
    """Whether face k may carry an item row."""
    return (int(row[SIDES]) >> int(table[k, SIDE])) & 1 == 1


@njit(cache=True, nogil=True, error_model="numpy")
def _units(types, mates, n, rows, pair_passives, first, second):
    """Fill the units' items (second: −1 or the partner), largest first; return how many."""
    taken = np.empty(n, np.int64)
    for i in range(n):
        taken[i] = 0
    count = 0
    for i in range(n):
        if taken[i] > 0:
            continue
        first[count], second[count] = i, -1
        taken[i] = 1
        if mates[i] >= 0:
            second[count] = mates[i]
        elif pair_passives and rows[types[i], KIND] == 1.0:
            for j in range(i + 1, n):
                if taken[j] == 0 and mates[j] < 0 and types[j] == types[i]:
                    second[count] = j
                    break
        if second[count] >= 0:
            taken[second[count]] = 1
        count += 1
    for i in range(1, count):
        a, b = first[i], second[i]
        size = rows[types[a], HALF_U] * (2.0 if b >= 0 else 1.0)
        j = i - 1
        while j >= 0 and size > rows[types[first[j]], HALF_U] * (2.0 if second[j] >= 0 else 1.0) + EPS:
            first[j + 1], second[j + 1] = first[j], second[j]
            j -= 1
        first[j + 1], second[j + 1] = a, b
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _mirrored(k, u, v, table, width, polygon, mirror_y, mirror_z):
    """Whether the mirror image of a first placement is tried as well, so that this one need not be."""
    n = polygon.shape[0]
    if k < n:
        x = v
        z = table[k, OZ] + u * table[k, DZ]
        y = table[k, OY] + u * table[k, DY]
    else:
        x = 0.0 if k == n else width
        z, y = u, v
    if x > 0.5 * width + EPS:
        return True
    if mirror_y and y > 0.5 * (polygon[0, 1] + polygon[2, 1]) + EPS:
        return True
    return mirror_z and z > 0.5 * (polygon[0, 0] + polygon[2, 0]) + EPS


@njit(cache=True, nogil=True, error_model="numpy")
def find_layout(polygon, table, width, wall, is_box, rows, types, mates, n, edge, mode, budget, placed):
    """Place every item; True and ``placed`` filled (in any order, see its ITEM column) if a way was found.

    Parameters
    ----------
    polygon, table, width, wall, is_box
        A ``Prism``. [m]
    rows : ndarray
        Kinds of items, shape (kinds, 8).
    types, mates : ndarray of int
        Kind of each item; its forced partner on the opposite face, or −1.
    n : int
        Items; at most ``MOST_ITEMS``.
    edge : float
        Least distance of frames from the inner walls and each other. [m]
    mode : int
        1: bodies of different faces have to stay clear of each other, 3: and equal passives have to sit opposite each
        other in pairs, 0: neither. (In a variable: numba compiles every literal flag anew.)
    budget : int
        Places to try.
    placed : ndarray
        Room for the answer, shape (>= n, PLACED_COLUMNS).
    """
    corners = polygon.shape[0]
    bodies, pair_passives = mode & 1 == 1, mode & 2 == 2
    first, second = np.empty(n, np.int64), np.empty(n, np.int64)
    units = _units(types, mates, n, rows, pair_passives, first, second)
    spots = np.empty((units, SPOTS, 4))
    lines, bounds = np.empty((corners + 4, 4)), np.empty(5)
    at_face, spot_n, spot_i = np.empty(units, np.int64), np.empty(units, np.int64), np.empty(units, np.int64)
    before = np.empty(units, np.int64)
    mirror_x, mirror_y, mirror_z = True, is_box, is_box
    for i in range(n):
        sides = int(rows[types[i], SIDES])
        mirror_z = mirror_z and (sides & 1) == (sides >> 1 & 1)
        mirror_x = mirror_x and (sides >> 2 & 1) == (sides >> 3 & 1)
        mirror_y = mirror_y and (sides >> 4 & 1) == (sides >> 5 & 1)
    level, count = units - units, n - n  # not literals
    opposite = np.empty(corners + 2, np.int64)
    for k in range(corners + 2):
        opposite[k] = opposite_face(table, k, corners)
    # Faces that each unit can go on when it is alone; a unit with none settles the matter, one with few goes first.
    # (1 and 0, not true and false: one kind of array less to compile.)
    can = np.empty((units, corners + 2), np.int64)
    for i in range(units):
        a, b = first[i], second[i]
        row, choices = rows[types[a]], 0
        if i > 0 and types[first[i - 1]] == types[a] and b < 0 and second[i - 1] < 0:
            for k in range(corners + 2):
                can[i, k] = can[i - 1, k]
            continue
        for k in range(corners + 2):
            g = opposite[k]
            can[i, k] = 0
            if not allows(row, table, k):
                continue
            if b >= 0 and (g < 0 or not allows(rows[types[b]], table, g) or (types[a] == types[b] and g < k)):
                continue
            c = spots_on(
                spots[0], row, placed, count, k, polygon, table, width, is_box, edge, bodies, lines, bounds
            )
            for j in range(c):
                set_placed(
                    placed[0], row, a, k, spots[0, j, 0], spots[0, j, 1], spots[0, j, 2], spots[0, j, 3], wall
                )
                if not placement_clear(placed, count + 1, polygon, table, width, edge, bodies):
                    continue
                if b >= 0:
                    _set_partner(placed, count, rows[types[b]], b, g, table, corners, wall)
                    if not placement_clear(placed, count + 2, polygon, table, width, edge, bodies):
                        continue
                can[i, k] = 1
                choices += 1
                break
        if choices == 0:
            return False
    in_order = np.empty(units, np.int64)
    in_order[0] = 0
    for i in range(1, units):
        a, b = first[i - 1], first[i]
        alike = types[a] == types[b] and (second[i - 1] >= 0) == (second[i] >= 0)
        in_order[i] = 1 if alike and mates[a] < 0 and mates[b] < 0 else 0
    at_face[0], spot_n[0], spot_i[0], before[0] = -1, 0, 0, 0
    while True:
        a, b = first[level], second[level]
        row = rows[types[a]]
        if spot_i[level] < spot_n[level]:
            s = spots[level, spot_i[level]]
            spot_i[level] += 1
            budget -= 1
            if budget < 0:
                return False
            k = at_face[level]
            if (
                level == 0
                and mirror_x
                and _mirrored(k, s[0], s[1], table, width, polygon, mirror_y, mirror_z)
            ):
                continue
            # Equal things on one face go upwards, or backwards: swapping them would make nothing new. (The mirror
            # rule keeps the first of them in the lower front half, so the order has to begin there.)
            if in_order[level] > 0 and k == at_face[level - 1]:
                falls = k < corners and table[k, DZ] + table[k, DY] < 0.0
                step = s[0] - placed[before[level - 1], U]
                if (-step if falls else step) < -EPS:
                    continue
            set_placed(placed[count], row, a, k, s[0], s[1], s[2], s[3], wall)
            if not placement_clear(placed, count + 1, polygon, table, width, edge, bodies):
                continue
            if b >= 0:
                _set_partner(placed, count, rows[types[b]], b, opposite[k], table, corners, wall)
                if not placement_clear(placed, count + 2, polygon, table, width, edge, bodies):
                    continue
                count += 1
            count += 1
            level += 1
            if level == units:
                return True
            before[level] = count
            at_face[level], spot_n[level], spot_i[level] = -1, 0, 0
            if in_order[level] > 0:
                at_face[level] = at_face[level - 1] - 1
            continue
        at_face[level] += 1
        k = at_face[level]
        if k >= corners + 2:
            level -= 1
            if level < 0:
                return False
            count = before[level]
            continue
        spot_n[level], spot_i[level] = 0, 0
        if can[level, k] == 0:
            continue
        spot_n[level] = spots_on(
            spots[level], row, placed, count, k, polygon, table, width, is_box, edge, bodies, lines, bounds
        )
