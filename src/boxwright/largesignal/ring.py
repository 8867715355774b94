"""One period of steady motion, all its points at once, closed by Newton's method.

Compiled. The period is cut into even steps, each with the fourth-order rule of Simpson's quadrature and the Hermite
cubic's midpoint (the three-point Lobatto collocation). The product of the steps' Jacobians is the map from one period
to the next: the size of its largest multiplier tells whether the motion is stable.

References
----------
ascher1995
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.largesignal.equations import derivative

__all__ = ["TOLERANCE", "copy", "largest_multiplier", "newton"]

Real = NDArray[np.float64]

TOLERANCE = 1e-6
"""Of a correction over a state's size; it leaves an error of its square."""

_ROUNDS = 14
_SQUARINGS = 22


@njit(cache=True, error_model="numpy")
def copy(source: Real, target: Real) -> None:
    """Overwrite one matrix with another of the same shape."""
    for r in range(source.shape[0]):
        for c in range(source.shape[1]):
            target[r, c] = source[r, c]


@njit(cache=True, error_model="numpy")
def _solve(a: Real, b: Real) -> None:
    """Gauss with row pivoting: b becomes a⁻¹·b, a is used up."""
    n, columns = b.shape
    for k in range(n):
        best = k
        for r in range(k + 1, n):
            if abs(a[r, k]) > abs(a[best, k]):
                best = r
        if best != k:
            for c in range(k, n):
                a[k, c], a[best, c] = a[best, c], a[k, c]
            for c in range(columns):
                b[k, c], b[best, c] = b[best, c], b[k, c]
        inverse = 1.0 / a[k, k]
        for r in range(k + 1, n):
            factor = a[r, k] * inverse
            if factor != 0.0:
                for c in range(k + 1, n):
                    a[r, c] -= factor * a[k, c]
                for c in range(columns):
                    b[r, c] -= factor * b[k, c]
    for k in range(n - 1, -1, -1):
        inverse = 1.0 / a[k, k]
        for c in range(columns):
            total = b[k, c]
            for r in range(k + 1, n):
                total -= a[k, r] * b[r, c]
            b[k, c] = total * inverse


@njit(cache=True, error_model="numpy")
def _rates(
    y: Real, e: float, rows: Real, inflow: Real, cubics: Real, scale: Real, f: Real, jac: Real, out: Real
) -> None:
    """Rates of change and their derivative by every state, by small differences."""
    n = y.size
    for c in range(-1, n):  # one call for all: the compiler takes the whole function in wherever it is called
        kept, delta = 0.0, 1.0
        if c >= 0:
            kept = y[c]
            delta = 1e-7 * scale[c]
            y[c] = kept + delta
        derivative(y, e, rows, inflow, cubics, out)
        if c < 0:
            for r in range(n):
                f[r] = out[r]
        else:
            y[c] = kept
            for r in range(n):
                jac[r, c] = (out[r] - f[r]) / delta


@njit(cache=True, error_model="numpy")
def _link(ja: Real, jm: Real, jb: Real, h: float, left: Real, link: Real) -> None:
    """Derivatives of a step's defect by the state at its end (left) and, negative, at its beginning (link)."""
    n = ja.shape[0]
    for r in range(n):
        for c in range(n):
            first, second = 0.0, 0.0
            for k in range(n):
                first += jm[r, k] * ja[k, c]
                second += jm[r, k] * jb[k, c]
            one = 1.0 if r == c else 0.0
            left[r, c] = one - h / 6.0 * jb[r, c] - h / 3.0 * jm[r, c] + h * h / 12.0 * second
            link[r, c] = one + h / 6.0 * ja[r, c] + h / 3.0 * jm[r, c] + h * h / 12.0 * first


@njit(cache=True, error_model="numpy")
def newton(
    ring: Real,
    peak: float,
    cosine: Real,
    h: float,
    rows: Real,
    inflow: Real,
    cubics: Real,
    scale: Real,
    turn: Real,
    out: Real,
) -> tuple[int, float]:
    """Close the ring by Newton's method; rounds taken, and the last correction over each state's size.

    ``ring`` (steps, n) is corrected in place; ``turn`` (n, n) receives the map from one period to the next.
    """
    steps, n = ring.shape
    links = np.empty((steps, n, n + 1))
    fa, fb, fm, y = np.empty(n), np.empty(n), np.empty(n), np.empty(n)
    ja, jb, jm = np.empty((n, n)), np.empty((n, n)), np.empty((n, n))
    left = np.empty((n, n))
    closing, gap = np.empty((n, n)), np.empty((n, 1))
    chain, product = np.empty((n, n + 1)), np.empty((n, n + 1))
    size = np.inf
    rounds = 0
    while rounds < _ROUNDS:
        rounds += 1
        for r in range(n):
            for c in range(n + 1):
                chain[r, c] = 1.0 if r == c else 0.0
        # points in the order 0, then for every step its end and its middle: rates are asked for at one place only
        for p in range(2 * steps + 1):
            j = (p - 1) // 2
            after = (j + 1) % steps
            middle = p % 2 == 0 and p > 0
            for k in range(n):
                y[k] = ring[after, k]
                if middle:
                    y[k] = 0.5 * (ring[j, k] + ring[after, k]) + h / 8.0 * (fa[k] - fb[k])
            phase = 2 * j + 1 if middle else 2 * after
            if middle:
                fm, fb = fb, fm
                jm, jb = jb, jm
            _rates(y, peak * cosine[phase], rows, inflow, cubics, scale, fb, jb, out)
            if middle:
                fm, fb = fb, fm
                jm, jb = jb, jm
                link = links[j]
                _link(ja, jm, jb, h, left, link)
                for r in range(n):
                    link[r, n] = ring[j, r] - ring[after, r] + h / 6.0 * (fa[r] + 4.0 * fm[r] + fb[r])
                _solve(left, link)
                for r in range(n):
                    for c in range(n + 1):
                        total = link[r, n] if c == n else 0.0
                        for k in range(n):
                            total += link[r, k] * chain[k, c]
                        product[r, c] = total
                chain, product = product, chain
            if middle or p == 0:
                fa, fb = fb, fa
                ja, jb = jb, ja
        for r in range(n):
            for c in range(n):
                turn[r, c] = chain[r, c]
                closing[r, c] = (1.0 if r == c else 0.0) - chain[r, c]
            gap[r, 0] = chain[r, n]
        _solve(closing, gap)
        size = 0.0
        for r in range(n):
            y[r] = gap[r, 0]
        for j in range(steps):  # how far each point has to move: how it goes on from the first one's
            link = links[j]
            for r in range(n):
                product[r, 0] = y[r]
                size = max(size, abs(y[r]) / scale[r])
            for r in range(n):
                total = link[r, n]
                for k in range(n):
                    total += link[r, k] * product[k, 0]
                link[r, 0] = product[r, 0]
                y[r] = total
        if not size < 1e6:
            return rounds, np.inf
        share = min(1.0, 0.5 / size) if size > 0.5 else 1.0
        for j in range(steps):
            for r in range(n):
                ring[j, r] += share * links[j, r, 0]
        if size < TOLERANCE:
            break
    return rounds, size


@njit(cache=True, error_model="numpy")
def largest_multiplier(turn: Real) -> float:
    """Spectral radius of the map over one period, by squaring it again and again."""
    n = turn.shape[0]
    a, b = np.empty((n, n)), np.empty((n, n))
    copy(turn, a)
    logarithm, power = 0.0, 1.0
    for _ in range(_SQUARINGS):
        size = 0.0
        for r in range(n):
            for c in range(n):
                size = max(size, abs(a[r, c]))
        if size == 0.0:
            return 0.0
        logarithm += math.log(size) / power
        for r in range(n):
            for c in range(n):
                total = 0.0
                for k in range(n):
                    total += a[r, k] * a[k, c]
                b[r, c] = total / (size * size)
        a, b = b, a
        power *= 2.0
    return math.exp(logarithm)
