"""One period of steady motion, all its points at once, closed by Newton's method.

The period is cut into even steps, each with the fourth-order rule of Simpson's quadrature and the Hermite
cubic's midpoint (the three-point Lobatto collocation). The product of the steps' Jacobians is the map from one period
to the next: the size of its largest multiplier tells whether the motion is stable.

References
----------
ascher1995
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.largesignal.equations import derivative
from boxwright.largesignal.model import Model

__all__ = ["TOLERANCE", "newton", "observe"]

Real = NDArray[np.float64]

TOLERANCE = 1e-6
"""Of a correction over a state's size; it leaves an error of its square."""

_ROUNDS = 14
# A correction of so many sizes is no correction; one of more than half a size is taken in part.
_FAR, _STRIDE = 1e6, 0.5

_compiled = njit(nogil=True, cache=True, error_model="numpy")


@_compiled
def _solve(a: Real, b: Real) -> None:
    """Gauss with row pivoting: the first rows of b become a⁻¹ times them, a is used up."""
    n, columns = a.shape[0], b.shape[1]
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


@_compiled
def _product(a: Real, b: Real, out: Real) -> None:
    for r in range(a.shape[0]):
        for c in range(b.shape[1]):
            total = 0.0
            for k in range(b.shape[0]):
                total += a[r, k] * b[k, c]
            out[r, c] = total


@_compiled
def _link(f: Real, jac: Real, a: int, h: float, left: Real, link: Real) -> None:
    """One step from its beginning, middle and end: how a change at its beginning goes on to its end.

    ``f`` (3, n) and ``jac`` (3, n, n) hold rates and their derivatives at beginning or end, end or beginning (``a``
    says which is the beginning), and middle. ``link`` (n + 1, n + 1) receives the change at the end over (change at
    the beginning, 1); in its last column it brings the gap between the step's rule and the ring.
    """
    n = left.shape[0]
    b = 1 - a
    for r in range(n):
        for c in range(n):
            first, second = 0.0, 0.0
            for k in range(n):
                first += jac[2, r, k] * jac[a, k, c]
                second += jac[2, r, k] * jac[b, k, c]
            one = 1.0 if r == c else 0.0
            left[r, c] = one - h / 6.0 * jac[b, r, c] - h / 3.0 * jac[2, r, c] + h * h / 12.0 * second
            link[r, c] = one + h / 6.0 * jac[a, r, c] + h / 3.0 * jac[2, r, c] + h * h / 12.0 * first
        link[r, n] += h / 6.0 * (f[a, r] + 4.0 * f[2, r] + f[b, r])
    _solve(left, link)


@_compiled
def _links(
    ring: Real, peak: float, cosine: Real, h: float, rows: Real, inflow: Real, cubics: Real, scale: Real, out: Real,
    links: Real, chain: Real,
) -> None:  # fmt: skip
    """All steps of a ring as links, and their product as a chain."""
    steps, n = ring.shape
    f, jac, left, y = np.empty((3, n)), np.empty((3, n, n)), np.empty((n, n)), np.empty(n)
    kept = np.empty((n + 1, n + 1))
    for r in range(n + 1):
        for c in range(n + 1):
            chain[r, c] = 1.0 if r == c else 0.0
    # points in the order 0, then for every step its end and its middle: the equations stand at one place only, for
    # the compiler takes them in whole wherever they are called
    for p in range(2 * steps + 1):
        j = (p - 1) // 2
        a = j % 2
        after = (j + 1) % steps
        middle = p % 2 == 0 and p > 0
        for k in range(n):
            y[k] = ring[after, k]
            if middle:
                y[k] = 0.5 * (ring[j, k] + ring[after, k]) + h / 8.0 * (f[a, k] - f[1 - a, k])
        at = 2 if middle else 1 - a
        e = peak * cosine[2 * j + 1 if middle else 2 * after]
        # rates, then their derivative by every state, by small differences
        for c in range(-1, n):
            delta = 1e-7 * scale[max(c, 0)]
            if c >= 0:
                y[c] += delta
            derivative(y, e, rows, inflow, cubics, out)
            if c >= 0:
                y[c] -= delta
            for r in range(n):
                if c < 0:
                    f[at, r] = out[r]
                else:
                    jac[at, r, c] = (out[r] - f[at, r]) / delta
        if middle:
            link = links[j]
            for r in range(n):
                link[r, n] = ring[j, r] - ring[after, r]
                link[n, r] = 0.0
            link[n, n] = 1.0
            _link(f, jac, a, h, left, link)
            for r in range(n + 1):
                for c in range(n + 1):
                    kept[r, c] = chain[r, c]
            _product(link, kept, chain)


@_compiled
def _carry(links: Real, change: Real) -> None:
    """How far every point has to move, from the first one's (and a 1): each link carries it on."""
    for j in range(1, change.shape[0]):
        for r in range(change.shape[1]):
            total = 0.0
            for k in range(change.shape[1]):
                total += links[j - 1, r, k] * change[j - 1, k]
            change[j, r] = total


@_compiled
def observe(ring: Real, volts: Real, rows: Real, inflow: Real, cubics: Real, waves: Real) -> None:
    """Write states, and what `equations.derivative` appends to their rates, at every point of a ring.

    Parameters
    ----------
    volts : ndarray, shape (steps,)
        Voltage at each. [V]
    waves : ndarray, shape (steps, n + 2 + nc)
    """
    n = ring.shape[1]
    for j in range(ring.shape[0]):
        derivative(ring[j], volts[j], rows, inflow, cubics, waves[j])
        for k in range(n):
            waves[j, k] = ring[j, k]


def newton(
    model: Model, ring: Real, omega: float, peak: float, scale: Real
) -> tuple[int, float, NDArray[np.float64]]:
    """Close a ring by Newton's method.

    Parameters
    ----------
    ring : ndarray, shape (steps, n)
        States at even points of a period, corrected in place.
    omega, peak : float
        Of the voltage, a cosine. [rad/s], [V]
    scale : ndarray, shape (n,)
        Size of each state, > 0.

    Returns
    -------
    rounds : int
    size : float
        The last correction over each state's size; inf: it was beyond all reason.
    turn : ndarray, shape (n, n)
        Map from one period to the next.
    """
    steps, n = ring.shape
    cosine = np.cos(np.pi / steps * np.arange(2 * steps))
    links, chain = np.empty((steps, n + 1, n + 1)), np.empty((n + 1, n + 1))
    change, out = np.ones((steps, n + 1)), np.empty(model.width)
    h = 2.0 * np.pi / (omega * steps)
    size, rounds = np.inf, 0
    while rounds < _ROUNDS and not size < TOLERANCE:
        rounds += 1
        _links(ring, peak, cosine, h, model.rows, model.inflow, model.cubics, scale, out, links, chain)
        if not np.all(np.isfinite(chain)):
            return rounds, np.inf, chain[:n, :n]
        try:
            change[0, :n] = np.linalg.solve(np.eye(n) - chain[:n, :n], chain[:n, n])
        except np.linalg.LinAlgError:
            return rounds, np.inf, chain[:n, :n]
        _carry(links, change)
        size = float(np.max(np.abs(change[:, :n]) / scale))
        if not size < _FAR:
            return rounds, np.inf, chain[:n, :n]
        ring += min(1.0, _STRIDE / size) * change[:, :n]
    return rounds, size, chain[:n, :n]
