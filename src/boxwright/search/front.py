"""The trade-off front: which candidates nothing else beats in everything."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["STEPS", "boxed", "front_of"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

# Differences that nobody would choose by: size 3 %, reach 2 %, level 0.5 dB, price and weight 3 %, delay 10 %.
# (common practice, no source)
STEPS = (math.log(1.03), math.log(1.02), 0.5, math.log(1.03), math.log(1.03), math.log(1.10))


def boxed(objectives: Real) -> Whole:
    """Objectives in whole steps, all to be made small.

    Parameters
    ----------
    objectives : ndarray, shape (n, 6)
        Size, reach, clean level, price, weight, group delay. [m³, Hz, dB, currency, kg, s]

    Returns
    -------
    ndarray of int, shape (n, 6)
    """
    steps = np.array(STEPS)
    small = np.array([1e-6, 1e-3, 0.0, 1e-2, 1e-3, 1e-5])
    out = np.empty(objectives.shape, np.int64)
    for j in range(objectives.shape[1]):
        column = -objectives[:, j] if j == 2 else np.log(np.maximum(objectives[:, j], small[j]))
        out[:, j] = np.floor(column / steps[j])
    return out


@njit(cache=True, nogil=True)
def _undominated(boxes: Whole) -> Whole:
    """Indices of the rows that no other row beats; sorted by their sum, a row is beaten by earlier ones only."""
    n, m = boxes.shape
    kept = np.empty(n, np.int64)
    count = 0
    for i in range(n):
        beaten = False
        for k in range(count):
            j = kept[k]
            worse = True
            for c in range(m):
                if boxes[j, c] > boxes[i, c]:
                    worse = False
                    break
            if worse:
                beaten = True
                # move the winner forward: it is likely to beat the next rows as well
                if k > 0:
                    kept[k] = kept[k // 2]
                    kept[k // 2] = j
                break
        if not beaten:
            kept[count] = i
            count += 1
    return kept[:count]


def front_of(objectives: Real, keys: Whole) -> Whole:
    """Indices of the candidates on the trade-off front.

    Two candidates in the same step of every objective count as equal; the one that is better on the whole, then the
    one with the smaller key, stands for both. The result does not depend on the order of the rows, and the front of
    fronts is the front of all.

    Parameters
    ----------
    objectives : ndarray, shape (n, 6)
        As for `boxed`.
    keys : ndarray of int, shape (n, k)
        Identity of each candidate.

    Returns
    -------
    ndarray of int, shape (nfront,)
        Sorted by key.
    """
    if objectives.shape[0] == 0:
        return np.empty(0, np.int64)
    boxes = boxed(objectives)
    steps = np.array(STEPS)
    signed = objectives.copy()
    signed[:, 2] *= -1.0
    logs = np.where(np.arange(6) == 2, signed, np.log(np.maximum(np.abs(signed), 1e-9)))
    score = (logs / steps).sum(axis=1)
    by_key = tuple(keys[:, j] for j in range(keys.shape[1] - 1, -1, -1))
    order = np.lexsort((*by_key, score, *(boxes[:, j] for j in range(6))))
    ordered = boxes[order]
    first = np.ones(order.size, bool)
    first[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    unique = order[first]
    total = boxes[unique].sum(axis=1)
    arranged = unique[np.lexsort((*(boxes[unique, j] for j in range(6)), total))]
    kept = arranged[_undominated(np.ascontiguousarray(boxes[arranged]))]
    return np.asarray(
        kept[np.lexsort(tuple(keys[kept, j] for j in range(keys.shape[1] - 1, -1, -1)))], np.int64
    )
