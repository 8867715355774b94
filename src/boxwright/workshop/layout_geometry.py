"""Compiled tests of the layout: is a thing within its face, does its body clear the walls and the other bodies.

Every body behind a face is two round parts on one axis (a wide one as deep as the basket, a narrow one as deep as the
magnet and the air behind it), or one block for a slot. Parts on parallel or perpendicular axes are tested
exactly; on oblique ones, and for blocks, through their bounding rectangles, which is on the safe side.
"""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

import numpy as np
from numba import njit

__all__ = [
    "bodies_clear",
    "box_prism",
    "frames_clear",
    "free_depth",
    "inside_distance",
    "part_bounds",
    "place_clear",
]

EPS = 1e-9

# Columns of an item row (see layout.Item.row).
KIND, HALF_U, HALF_V, WIDE_R, WIDE_DEPTH, DEEP_R, DEEP_DEPTH, SIDES = range(8)
# Columns of a placed thing; behind these the bounds of its two parts, eight numbers each (see part_bounds).
FACE, U, V, HU, HV, BLOCK, RA, LA, RB, LB, ITEM, BOUNDS = range(12)
PLACED_COLUMNS = BOUNDS + 16
# Columns of the face table (see prism.Prism).
SIDE, OZ, OY, DZ, DY, NZ, NY, U0, U1 = range(9)


@njit(cache=True, nogil=True, error_model="numpy")
def box_prism(height, depth, wall, polygon, table):
    """Fill polygon (4, 2) and table (6, 9) of a rectangular box from its outer height and depth; False: no room."""
    h = height - 2.0 * wall
    d = depth - 2.0 * wall
    if h <= 0.0 or d <= 0.0:
        return False
    for k in range(4):  # front, bottom, back, top
        polygon[k, 0] = wall if k < 2 else depth - wall
        polygon[k, 1] = wall if k in (1, 2) else height - wall
        forward = -1.0 if k in (0, 3) else 1.0
        table[k, OZ], table[k, OY] = polygon[k, 0], polygon[k, 1]
        table[k, DZ] = forward if k % 2 == 1 else 0.0
        table[k, DY] = forward if k % 2 == 0 else 0.0
        table[k, NZ], table[k, NY] = -table[k, DY], table[k, DZ]
        table[k, U0], table[k, U1] = 0.0, d if k % 2 == 1 else h
    table[0, SIDE], table[1, SIDE], table[2, SIDE], table[3, SIDE] = 0.0, 5.0, 1.0, 4.0
    table[4, SIDE], table[5, SIDE] = 2.0, 3.0
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def free_depth(polygon, table, k, u, half):
    """How deep a strip of half-width ``half`` at u of edge face k runs inwards before it meets a wall. [m]."""
    n = polygon.shape[0]
    best = np.inf
    low, high = u - half + EPS, u + half - EPS
    oz, oy, dz, dy, nz, ny = (
        table[k, OZ],
        table[k, OY],
        table[k, DZ],
        table[k, DY],
        table[k, NZ],
        table[k, NY],
    )
    for e in range(n):
        if e == k:
            continue
        f = e + 1 if e + 1 < n else 0
        az, ay, bz, by = polygon[e, 0] - oz, polygon[e, 1] - oy, polygon[f, 0] - oz, polygon[f, 1] - oy
        sa, ta, sb, tb = az * dz + ay * dy, az * nz + ay * ny, bz * dz + by * dy, bz * nz + by * ny
        if max(sa, sb) <= low or min(sa, sb) >= high:
            continue
        t1, t2 = ta, tb
        if abs(sb - sa) > EPS:
            t1 = ta + (min(max(sa, low), high) - sa) / (sb - sa) * (tb - ta)
            t2 = ta + (min(max(sb, low), high) - sa) / (sb - sa) * (tb - ta)
        if max(t1, t2) > EPS:
            best = min(best, max(0.0, min(t1, t2)))
    return best


@njit(cache=True, nogil=True, error_model="numpy")
def inside_distance(polygon, z, y):
    """Distance of a point from the polygon's outline, negative outside it. [m]."""
    n = polygon.shape[0]
    best = np.inf
    inside = False
    for e in range(n):
        f = e + 1 if e + 1 < n else 0
        az, ay, bz, by = polygon[e, 0], polygon[e, 1], polygon[f, 0], polygon[f, 1]
        if (ay > y) != (by > y) and z < az + (y - ay) / (by - ay) * (bz - az):
            inside = not inside
        dz, dy = bz - az, by - ay
        t = min(1.0, max(0.0, ((z - az) * dz + (y - ay) * dy) / (dz * dz + dy * dy)))
        best = min(best, math.hypot(z - az - t * dz, y - ay - t * dy))
    return best if inside else -best


@njit(cache=True, nogil=True, error_model="numpy")
def _block_inside(polygon, z, y, hz, hy):
    """Whether an axis-parallel rectangle lies in the polygon (touching allowed)."""
    if inside_distance(polygon, z, y) <= 0.0:
        return False
    n = polygon.shape[0]
    for e in range(n):
        f = e + 1 if e + 1 < n else 0
        az, ay, bz, by = polygon[e, 0] - z, polygon[e, 1] - y, polygon[f, 0] - z, polygon[f, 1] - y
        if max(az, bz) <= -hz + EPS or min(az, bz) >= hz - EPS:
            continue
        y1, y2 = ay, by
        if abs(bz - az) > EPS:
            y1 = ay + (min(max(az, -hz + EPS), hz - EPS) - az) / (bz - az) * (by - ay)
            y2 = ay + (min(max(bz, -hz + EPS), hz - EPS) - az) / (bz - az) * (by - ay)
        if max(y1, y2) > -hy + EPS and min(y1, y2) < hy - EPS:
            return False
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def place_clear(p, polygon, table, width, edge):
    """Whether one placed thing lies within its face and its body within the walls."""
    k = int(p[FACE])
    n = polygon.shape[0]
    margin = 0.0 if p[BLOCK] > 0.0 else edge
    if k < n:
        hu, hv = p[HU] + margin, p[HV] + margin
        if p[U] - hu < table[k, U0] - EPS or p[U] + hu > table[k, U1] + EPS:
            return False
        if p[V] - hv < -EPS or p[V] + hv > width + EPS:
            return False
        if p[BLOCK] > 0.0:
            return p[LB] <= EPS or free_depth(polygon, table, k, p[U], p[HU]) >= p[LB] - EPS
        if p[LA] > 0.0 and free_depth(polygon, table, k, p[U], p[RA]) < p[LA] - EPS:
            return False
        return p[LB] <= 0.0 or free_depth(polygon, table, k, p[U], p[RB]) >= p[LB] - EPS
    if max(p[LA], p[LB]) > width + EPS:
        return False
    if p[BLOCK] > 0.0:
        return _block_inside(polygon, p[U], p[V], p[HU], p[HV])
    return inside_distance(polygon, p[U], p[V]) >= p[HU] + edge - EPS


@njit(cache=True, nogil=True, error_model="numpy")
def part_bounds(p, polygon, table, width):
    """Fill in the bounds of a thing's parts: x from, to; centre z, y, axis z, y, half length, half width."""
    k, n = int(p[FACE]), polygon.shape[0]
    for part in range(2):
        length, ru = (p[LA], p[RA]) if part == 0 else (p[LB], p[RB])
        rv = ru
        if p[BLOCK] > 0.0:
            ru, rv = p[HU], p[HV]
        out = BOUNDS + 8 * part
        if k < n:
            p[out], p[out + 1] = p[V] - rv, p[V] + rv
            p[out + 2] = table[k, OZ] + p[U] * table[k, DZ] + 0.5 * length * table[k, NZ]
            p[out + 3] = table[k, OY] + p[U] * table[k, DY] + 0.5 * length * table[k, NY]
            p[out + 4], p[out + 5], p[out + 6], p[out + 7] = table[k, NZ], table[k, NY], 0.5 * length, ru
        else:
            p[out] = 0.0 if k == n else width - length
            p[out + 1] = length if k == n else width
            p[out + 2], p[out + 3], p[out + 4], p[out + 5] = p[U], p[V], 1.0, 0.0
            p[out + 6], p[out + 7] = ru, rv


@njit(cache=True, nogil=True, error_model="numpy")
def _rectangles_apart(a, i, b, j, less_a, less_b):
    """Separating-axis test of the rectangles of two parts, with half-widths narrowed to less_a and less_b."""
    dz, dy = b[j + 2] - a[i + 2], b[j + 3] - a[i + 3]
    for turn in range(4):
        ez, ey = (a[i + 4], a[i + 5]) if turn < 2 else (b[j + 4], b[j + 5])
        if turn % 2 == 1:
            ez, ey = -ey, ez
        reach_a = abs(a[i + 4] * ez + a[i + 5] * ey) * a[i + 6] + abs(-a[i + 5] * ez + a[i + 4] * ey) * less_a
        reach_b = abs(b[j + 4] * ez + b[j + 5] * ey) * b[j + 6] + abs(-b[j + 5] * ez + b[j + 4] * ey) * less_b
        if abs(dz * ez + dy * ey) >= reach_a + reach_b - EPS:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _outside(value, low, high):
    """Distance of a value from an interval."""
    return max(0.0, low - value, value - high)


@njit(cache=True, nogil=True, error_model="numpy")
def _crossing_clear(ra, rb, gap_a, gap_b, offset):
    """Two cylinders on perpendicular axes.

    At the distance s along their common perpendicular, cylinder A (s from its axis) is a strip as wide as its chord; it
    meets B's length only while the half chord is at least gap_a, the distance of A's axis from B's length: |s| <=
    sqrt(ra² - gap_a²). The same for B; they meet when both hold for one s. Closed form.
    """
    if gap_a >= ra - EPS or gap_b >= rb - EPS:
        return True
    return abs(offset) >= math.sqrt(ra * ra - gap_a * gap_a) + math.sqrt(rb * rb - gap_b * gap_b) - EPS


@njit(cache=True, nogil=True, error_model="numpy")
def _parts_clear(a, i, b, j, n):
    """Whether the part of a with its bounds from column i on stays clear of b's part from column j on."""
    if a[i + 1] <= b[j] + EPS or b[j + 1] <= a[i] + EPS:
        return True
    across_a, across_b = a[FACE] >= n, b[FACE] >= n  # on the left or the right
    half_a, half_b = a[i + 7], b[j + 7]
    if a[BLOCK] > 0.0 or b[BLOCK] > 0.0:
        return _rectangles_apart(a, i, b, j, half_a, half_b)
    if across_a and across_b:
        # Left against right: their lengths overlap (tested above), so their axes have to be apart.
        return math.hypot(a[U] - b[U], a[V] - b[V]) >= half_a + half_b - EPS
    dz, dy = b[j + 2] - a[i + 2], b[j + 3] - a[i + 3]
    az, ay, bz, by = a[i + 4], a[i + 5], b[j + 4], b[j + 5]
    if across_a or across_b:
        # one runs along x, from low to high; the other along a face's normal (nz, ny), at x = middle
        nz, ny, reach = (bz, by, b[j + 6]) if across_a else (az, ay, a[i + 6])
        low, high = (a[i], a[i + 1]) if across_a else (b[j], b[j + 1])
        middle = 0.5 * (b[j] + b[j + 1]) if across_a else 0.5 * (a[i] + a[i + 1])
        half, other = (half_a, half_b) if across_a else (half_b, half_a)
        along, across = dz * nz + dy * ny, -dz * ny + dy * nz
        return _crossing_clear(
            half, other, _outside(along, -reach, reach), _outside(middle, low, high), across
        )
    cross = az * by - ay * bz
    dot = az * bz + ay * by
    dx = 0.5 * (a[i] + a[i + 1] - b[j] - b[j + 1])
    if abs(cross) < 1e-7:
        along = abs(dz * az + dy * ay)
        across = dy * az - dz * ay
        return along >= a[i + 6] + b[j + 6] - EPS or math.hypot(dx, across) >= half_a + half_b - EPS
    if abs(dot) < 1e-7:
        gap_a = _outside(-(dz * bz + dy * by), -b[j + 6], b[j + 6])
        gap_b = _outside(dz * az + dy * ay, -a[i + 6], a[i + 6])
        return _crossing_clear(half_a, half_b, gap_a, gap_b, dx)
    # Oblique: no slice of A that B reaches is wider than the one nearest to B's axis, and the other way round.
    near_a, near_b = max(0.0, abs(dx) - half_b), max(0.0, abs(dx) - half_a)
    less_a = math.sqrt(max(0.0, half_a * half_a - near_a * near_a))
    less_b = math.sqrt(max(0.0, half_b * half_b - near_b * near_b))
    return _rectangles_apart(a, i, b, j, less_a, less_b)


@njit(cache=True, nogil=True, error_model="numpy")
def frames_clear(a, b, edge):
    """Whether two frames on one face keep the edge distance."""
    du, dv = abs(a[U] - b[U]), abs(a[V] - b[V])
    if a[BLOCK] == 0.0 and b[BLOCK] == 0.0:
        return du * du + dv * dv >= (a[HU] + b[HU] + edge - EPS) ** 2
    if a[BLOCK] > 0.0 and b[BLOCK] > 0.0:
        return du >= a[HU] + b[HU] + edge - EPS or dv >= a[HV] + b[HV] + edge - EPS
    block, disc = (a, b) if a[BLOCK] > 0.0 else (b, a)
    return math.hypot(max(0.0, du - block[HU]), max(0.0, dv - block[HV])) >= disc[HU] + edge - EPS


@njit(cache=True, nogil=True, error_model="numpy")
def bodies_clear(a, b, n):
    """Whether the bodies of two things on different faces stay clear of each other; n: corners of the polygon."""
    for pa in range(2):
        if a[LA + 2 * pa] <= 0.0:
            continue
        for pb in range(2):
            if b[LA + 2 * pb] > 0.0 and not _parts_clear(a, BOUNDS + 8 * pa, b, BOUNDS + 8 * pb, n):
                return False
    return True
