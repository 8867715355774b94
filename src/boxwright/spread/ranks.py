"""Order statistics of many rows at once, exactly, in a few passes over each row."""

# mypy: allow-untyped-defs, allow-untyped-calls
# Compiled functions: their argument types are what the docstrings say, numba infers them.

from __future__ import annotations

import math

import numpy as np
from numba import njit

__all__ = ["order_statistics"]

_BINS = 2048

_fast = njit(cache=True, nogil=True, error_model="numpy")


@_fast
def order_statistics(rows, ranks, out):
    """The values of the wanted ranks of each row.

    Parameters
    ----------
    rows : ndarray, shape (nf, n)
        Without NaN; infinite values are allowed.
    ranks : ndarray of int, shape (nq,)
        0 is the least value.
    out : ndarray, shape (nq, nf)
        Written.

    Notes
    -----
    Each row is counted into even bins between its ends; only the bin that holds a rank is then sorted. Exact, whatever
    the distribution: a bad one costs time.
    """
    n = rows.shape[1]
    counts = np.zeros(_BINS + 1, np.int64)
    held = np.empty(n)
    for r in range(rows.shape[0]):
        row = rows[r]
        low = math.inf
        high = -math.inf
        for value in row:
            low = min(low, value)
            if high < value < math.inf:
                high = value
        scale = _BINS / (high - low) if high > low else 0.0
        for c in range(_BINS + 1):
            counts[c] = 0
        for value in row:
            counts[_bin(value, low, scale)] += 1
        for q in range(ranks.size):
            before = 0
            at = 0
            while before + counts[at] <= ranks[q]:
                before += counts[at]
                at += 1
            if at == _BINS:
                out[q, r] = math.inf
                continue
            size = 0
            for value in row:
                if _bin(value, low, scale) == at:
                    held[size] = value
                    size += 1
            out[q, r] = np.sort(held[:size])[ranks[q] - before]


@_fast
def _bin(value, low, scale):
    """Bin of a value; the last one is for what is infinite."""
    if value == math.inf:
        return _BINS
    return min(int((value - low) * scale), _BINS - 1)
