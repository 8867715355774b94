"""Compiled list of the places worth trying for one more thing on a face.

A thing that can be placed at all can be pushed until it touches two others (a wall, a frame, a body), so the places
tried are: the middle, the corners and the middles of the sides; the places that touch a frame and a wall, or
two frames; and the places just beside the bodies of what sits on other faces. Places come unchecked.
"""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

import numpy as np
from numba import njit

from boxwright.workshop.layout_geometry import (
    BLOCK,
    BOUNDS,
    DY,
    DZ,
    EPS,
    FACE,
    HALF_U,
    HALF_V,
    HU,
    HV,
    LA,
    OY,
    OZ,
    U0,
    U1,
    WIDE_R,
    U,
    V,
)

__all__ = ["SPOTS", "spots_on"]

SPOTS = 320
"""Most places tried for one thing on one face."""


@njit(cache=True, nogil=True, error_model="numpy")
def _put(spots, c, u, v, hu, hv):
    if c < spots.shape[0]:
        spots[c, 0], spots[c, 1], spots[c, 2], spots[c, 3] = u, v, hu, hv
        return c + 1
    return c


@njit(cache=True, nogil=True, error_model="numpy")
def _fraction(i, fine):
    """Middle, ends, then the sixths between."""
    if i == 0:
        return 0.5
    if i < 3:
        return float(i - 1)
    return (i - 2.0) / 6.0 if fine and i < 5 else (i - 1.0) / 6.0


@njit(cache=True, nogil=True, error_model="numpy")
def _grid(spots, c, ulo, uhi, vlo, vhi, hu, hv, fine_u, fine_v):
    for i in range((7 if fine_u else 3) if uhi - ulo > EPS else 1):
        for j in range((7 if fine_v else 3) if vhi - vlo > EPS else 1):
            u = ulo + _fraction(i, fine_u) * (uhi - ulo)
            v = vlo + _fraction(j, fine_v) * (vhi - vlo)
            c = _put(spots, c, u, v, hu, hv)
    return c


@njit(cache=True, nogil=True, error_model="numpy")
def _lines(polygon, table, k, m, bounds, lines):
    """Lines that the centre of a disc with margin m touches when the disc touches a wall of face k."""
    n = polygon.shape[0]
    if k < n or (n == 4 and bounds[4] > 0.0):
        for e in range(4):
            lines[e, 0] = bounds[0] if e in (0, 3) else bounds[1]
            lines[e, 1] = bounds[2] if e in (0, 1) else bounds[3]
            lines[e, 2], lines[e, 3] = (1.0, 0.0) if e % 2 == 0 else (0.0, 1.0)
        return 4
    for e in range(n):
        lines[e, 0] = table[e, OZ] - m * table[e, DY]
        lines[e, 1] = table[e, OY] + m * table[e, DZ]
        lines[e, 2], lines[e, 3] = table[e, DZ], table[e, DY]
    return n


@njit(cache=True, nogil=True, error_model="numpy")
def _crossings(spots, c, lines, n, r):
    for i in range(n):
        for j in range(i + 1, n):
            cross = lines[i, 2] * lines[j, 3] - lines[i, 3] * lines[j, 2]
            if abs(cross) > 1e-6:
                du, dv = lines[j, 0] - lines[i, 0], lines[j, 1] - lines[i, 1]
                t = (du * lines[j, 3] - dv * lines[j, 2]) / cross
                c = _put(spots, c, lines[i, 0] + t * lines[i, 2], lines[i, 1] + t * lines[i, 3], r, r)
    return c


@njit(cache=True, nogil=True, error_model="numpy")
def _touching(spots, c, placed, count, k, lines, n, r, edge):
    """Places that touch a frame on this face and one wall, or two frames."""
    for j in range(count):
        if int(placed[j, FACE]) != k:
            continue
        pu, pv = placed[j, U], placed[j, V]
        if placed[j, BLOCK] > 0.0:
            su, sv = placed[j, HU] + edge + r, placed[j, HV] + edge + r
            for e in range(n):
                for side in (-1.0, 1.0):
                    if abs(lines[e, 2]) > EPS:
                        t = (pu + side * su - lines[e, 0]) / lines[e, 2]
                        c = _put(spots, c, pu + side * su, lines[e, 1] + t * lines[e, 3], r, r)
                    if abs(lines[e, 3]) > EPS:
                        t = (pv + side * sv - lines[e, 1]) / lines[e, 3]
                        c = _put(spots, c, lines[e, 0] + t * lines[e, 2], pv + side * sv, r, r)
            continue
        reach = r + placed[j, HU] + edge
        for e in range(n):
            du, dv = pu - lines[e, 0], pv - lines[e, 1]
            along = du * lines[e, 2] + dv * lines[e, 3]
            off = dv * lines[e, 2] - du * lines[e, 3]
            if abs(off) <= reach:
                chord = math.sqrt(reach * reach - off * off)
                for side in (-1.0, 1.0):
                    t = along + side * chord
                    c = _put(spots, c, lines[e, 0] + t * lines[e, 2], lines[e, 1] + t * lines[e, 3], r, r)
        for i in range(j):
            if int(placed[i, FACE]) != k or placed[i, BLOCK] > 0.0:
                continue
            other = r + placed[i, HU] + edge
            du, dv = placed[i, U] - pu, placed[i, V] - pv
            gap = math.hypot(du, dv)
            if gap < EPS or gap > reach + other:
                continue
            t = (reach * reach - other * other + gap * gap) / (2.0 * gap)
            high = reach * reach - t * t
            if high >= 0.0:
                s = math.sqrt(high)
                for side in (-1.0, 1.0):
                    u = pu + (t * du - side * s * dv) / gap
                    c = _put(spots, c, u, pv + (t * dv + side * s * du) / gap, r, r)
    return c


@njit(cache=True, nogil=True, error_model="numpy")
def _beside(spots, c, placed, count, k, n, table, bounds, hu, hv, bu, bv):
    """Places just beside the shadows that bodies of other faces throw on this one."""
    for j in range(count):
        if int(placed[j, FACE]) == k:
            continue
        for part in range(2):
            if placed[j, LA + 2 * part] <= 0.0:
                continue
            at = BOUNDS + 8 * part
            z, y, az, ay = placed[j, at + 2], placed[j, at + 3], placed[j, at + 4], placed[j, at + 5]
            half, wide = placed[j, at + 6], placed[j, at + 7]
            if k < n:
                dz, dy = table[k, DZ], table[k, DY]
                middle = (z - table[k, OZ]) * dz + (y - table[k, OY]) * dy
                reach = abs(az * dz + ay * dy) * half + abs(-ay * dz + az * dy) * wide
                ulo, uhi, vlo, vhi = middle - reach, middle + reach, placed[j, at], placed[j, at + 1]
            else:
                rz = abs(az) * half + abs(ay) * wide
                ry = abs(ay) * half + abs(az) * wide
                ulo, uhi, vlo, vhi = z - rz, z + rz, y - ry, y + ry
            for i in range(3):
                f = _fraction(i, i > 2)
                u, v = bounds[0] + f * (bounds[1] - bounds[0]), bounds[2] + f * (bounds[3] - bounds[2])
                if ulo - bu >= bounds[0] - EPS:
                    c = _put(spots, c, ulo - bu, v, hu, hv)
                if uhi + bu <= bounds[1] + EPS:
                    c = _put(spots, c, uhi + bu, v, hu, hv)
                if vlo - bv >= bounds[2] - EPS:
                    c = _put(spots, c, u, vlo - bv, hu, hv)
                if vhi + bv <= bounds[3] + EPS:
                    c = _put(spots, c, u, vhi + bv, hu, hv)
    return c


@njit(cache=True, nogil=True, error_model="numpy")
def _bounds(polygon, table, k, width, hu, hv, is_box, bounds):
    """Bounds of the centre on face k; False: the thing is larger than the face."""
    n = polygon.shape[0]
    if k < n:
        bounds[0], bounds[1], bounds[2], bounds[3] = table[k, U0] + hu, table[k, U1] - hu, hv, width - hv
    else:
        zlo, zhi, ylo, yhi = np.inf, -np.inf, np.inf, -np.inf
        for e in range(n):
            zlo, zhi = min(zlo, polygon[e, 0]), max(zhi, polygon[e, 0])
            ylo, yhi = min(ylo, polygon[e, 1]), max(yhi, polygon[e, 1])
        bounds[0], bounds[1], bounds[2], bounds[3] = zlo + hu, zhi - hu, ylo + hv, yhi - hv
    bounds[4] = 1.0 if is_box else 0.0
    return bounds[1] >= bounds[0] - EPS and bounds[3] >= bounds[2] - EPS


@njit(cache=True, nogil=True, error_model="numpy")
def spots_on(spots, row, placed, count, k, polygon, table, width, is_box, edge, bodies, lines, bounds):
    """Fill ``spots`` with u, v, half sizes to try for an item row on face k; return how many."""
    c = count - count  # not a literal, which numba would compile anew
    n = polygon.shape[0]
    if row[HALF_V] > 0.0:
        for turn in range(2):
            hu, hv = (row[HALF_U], row[HALF_V]) if turn == 1 else (row[HALF_V], row[HALF_U])
            if _bounds(polygon, table, k, width, hu, hv, is_box, bounds):
                c = _grid(spots, c, bounds[0], bounds[1], bounds[2], bounds[3], hu, hv, not is_box, c < 0)
                if bodies:
                    c = _beside(spots, c, placed, count, k, n, table, bounds, hu, hv, hu, hv)
                for j in range(count):
                    if int(placed[j, FACE]) == k:
                        su, sv = placed[j, HU] + hu + edge, placed[j, HV] + hv + edge
                        for side in (-1.0, 1.0):
                            for i in range(3):
                                f = _fraction(i, i > 2)
                                v = bounds[2] + f * (bounds[3] - bounds[2])
                                c = _put(spots, c, placed[j, U] + side * su, v, hu, hv)
                                u = bounds[0] + f * (bounds[1] - bounds[0])
                                c = _put(spots, c, u, placed[j, V] + side * sv, hu, hv)
        return c
    r = row[HALF_U]
    m = r + edge
    if not _bounds(polygon, table, k, width, m, m, is_box, bounds):
        return 0
    alone = True
    for j in range(count):
        if int(placed[j, FACE]) == k:
            alone = False
    slanted = not is_box and k >= n
    if slanted or not alone:
        lines_n = _lines(polygon, table, k, m, bounds, lines)
        if not alone:
            c = _touching(spots, c, placed, count, k, lines, lines_n, r, edge)
        if slanted:
            c = _crossings(spots, c, lines, lines_n, r)
    c = _grid(spots, c, bounds[0], bounds[1], bounds[2], bounds[3], r, r, not is_box, slanted)
    if bodies:
        wide = row[WIDE_R]
        c = _beside(spots, c, placed, count, k, n, table, bounds, r, r, wide, wide)
    return c
