"""A parameter over travel, in one form that compiled code reads.

Every curve becomes cubics on an even grid from −reach to +reach, one row of coefficients a cell, with a straight piece
at either end. Polynomials up to the third degree are exact in it.

References
----------
fritsch1980
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.errors import InputError
from boxwright.parts.curve import Curve

__all__ = ["CELLS", "CurveTable", "curve_at", "even_part", "tabulate"]

Real = NDArray[np.float64]

CELLS = 256
# Share of the value at rest below which a curve no longer falls straight but ever more slowly, never to zero.
_SOFT = 0.15
_LEAST_POINTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveTable:
    """A ratio over travel, ready for compiled code.

    Attributes
    ----------
    reach : float
        The grid goes from −reach to +reach. [m]
    cubics : ndarray, shape (CELLS + 2, 4)
        Coefficients in the place within a cell, 0 to 1; the first and the last row go on outwards, straight.
    """

    reach: float
    cubics: Real

    def __call__(self, travel: float) -> tuple[float, float]:
        """Ratio and its slope at a travel. [-], [1/m]."""
        value, slope = curve_at(travel, self.reach, 0.5 * CELLS / self.reach, self.cubics, 0)
        return float(value), float(slope)


@njit(cache=True, error_model="numpy", fastmath={"contract"})
def curve_at(x: float, reach: float, per_metre: float, cubics: Real, first: int) -> tuple[float, float]:
    """Ratio and its slope at a travel. [-], [1/m].

    Parameters
    ----------
    x : float
        [m]
    reach, per_metre : float
        Half the grid's width and its cells per metre. [m], [1/m]
    cubics : ndarray, shape (n, 4)
    first : int
        Row of the curve's first piece.
    """
    place = (x + reach) * per_metre
    if place < 0.0:
        row = first
    elif place >= CELLS:
        row = first + CELLS + 1
        place -= CELLS
    else:
        cell = int(place)
        row = first + 1 + cell
        place -= cell
    a, b, c, d = cubics[row, 0], cubics[row, 1], cubics[row, 2], cubics[row, 3]
    return a + place * (b + place * (c + place * d)), (b + place * (2.0 * c + 3.0 * place * d)) * per_metre


def even_part(curve: Curve) -> Curve:
    """The mean of a curve and its mirror: two drivers face to face, one of which moves in as the other moves out."""
    if curve.polynomial:
        return Curve(polynomial=tuple(0.0 if k % 2 else a for k, a in enumerate(curve.polynomial)))
    knots, values, slopes = _monotone(curve, "curve")
    ends = min(-knots[0], knots[-1])
    at = np.linspace(-ends, ends, 2 * CELLS + 1)
    there, _ = _between(at, values, slopes, knots)
    return Curve(table=tuple(zip(at.tolist(), (0.5 * (there + there[::-1])).tolist(), strict=True)))


def tabulate(curve: Curve, name: str, *, reach: float, hardens: bool) -> CurveTable:
    """Bring a curve into the form that compiled code reads.

    Parameters
    ----------
    name : str
        For messages.
    reach : float
        The grid goes at least so far. [m]
    hardens : bool
        True for a stiffness: beyond a table it goes on rising with its last slope and never falls. Otherwise (bl, le)
        it goes on falling with its last slope and never rises.

    Raises
    ------
    InputError
        If the curve is empty, not finite, not positive over its table, or its table does not span the rest position.

    Notes
    -----
    The ratio is divided by its value at rest. A table is joined by the monotone cubics of Fritsch and Carlson (slopes
    by the weighted harmonic mean, from memory); given on one side only, it is mirrored. What falls below s = 0.15
    follows ``s²/(2s − r)``, so that the ratio stays positive however far the travel; beyond the grid, stiffness rises
    straight and bl and le keep their value.

    References
    ----------
    fritsch1980
    """
    if curve.table:
        knots, values, slopes = _monotone(curve, name)
        low, high = float(knots[0]), float(knots[-1])
        reach = max(reach, 1.5 * max(-low, high))

        def ratio(x: Real) -> tuple[Real, Real]:
            return _beyond(x, *_between(np.clip(x, low, high), values, slopes, knots), low, high, hardens)

    elif curve.polynomial:
        ratio = _polynomial(curve, name)  # type: ignore[assignment]
    else:
        raise InputError(f"{name} must have a polynomial or a table, got neither")
    grid = np.linspace(-reach, reach, CELLS + 1)
    at_rest = float(ratio(np.zeros(1))[0][0])
    if not at_rest > 0.0:
        raise InputError(f"{name} must be > 0 at rest, got {at_rest:g}")
    value, slope = ratio(grid)
    value, slope = _softened(value / at_rest, slope / at_rest)
    return CurveTable(reach=reach, cubics=_cubics(value, slope * (2.0 * reach / CELLS), hardens))


def _polynomial(curve: Curve, name: str) -> Callable[[Real], tuple[Real, Real]]:
    coefficients = np.array(curve.polynomial, np.float64)
    if not np.all(np.isfinite(coefficients)):
        raise InputError(f"polynomial of {name} must have finite numbers only, got one that is not")
    derived = coefficients[1:] * np.arange(1, coefficients.size)

    def ratio(x: Real) -> tuple[Real, Real]:
        slope = np.polynomial.polynomial.polyval(x, derived) if derived.size else np.zeros_like(x)
        value = np.polynomial.polynomial.polyval(x, coefficients)
        return np.asarray(value, np.float64), np.asarray(slope, np.float64)

    return ratio


def _monotone(curve: Curve, name: str) -> tuple[Real, Real, Real]:
    """Knots of a table, values and slopes there."""
    x, y = np.array(curve.table, np.float64).T
    if x.size < _LEAST_POINTS:
        raise InputError(f"table of {name} must have at least {_LEAST_POINTS} points, got {x.size}")
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))):
        raise InputError(f"table of {name} must have finite numbers only, got one that is not")
    if not np.all(np.diff(x) > 0.0):
        raise InputError(f"travel in the table of {name} must rise strictly, got {x.tolist()}")
    if not np.all(y > 0.0):
        raise InputError(f"ratios in the table of {name} must be > 0, got {float(y.min()):g}")
    if not x[0] <= 0.0 <= x[-1]:
        raise InputError(f"table of {name} must reach the rest position, got {x[0]:g} to {x[-1]:g} m")
    if x[0] == 0.0:  # one side given: the other is its mirror
        x, y = np.concatenate([-x[:0:-1], x]), np.concatenate([y[:0:-1], y])
    elif x[-1] == 0.0:
        x, y = np.concatenate([x, -x[-2::-1]]), np.concatenate([y, y[-2::-1]])
    h = np.diff(x)
    d = np.diff(y) / h
    slope = np.zeros_like(y)
    for k in range(1, x.size - 1):
        if d[k - 1] * d[k] > 0.0:
            w1, w2 = 2.0 * h[k] + h[k - 1], h[k] + 2.0 * h[k - 1]
            slope[k] = (w1 + w2) / (w1 / d[k - 1] + w2 / d[k])
    slope[0], slope[-1] = _end_slope(h[0], h[1], d[0], d[1]), _end_slope(h[-1], h[-2], d[-1], d[-2])
    return x, y, slope


def _end_slope(h0: float, h1: float, d0: float, d1: float) -> float:
    slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0.0:
        return 0.0
    if d0 * d1 <= 0.0 and abs(slope) > 3.0 * abs(d0):
        return 3.0 * d0
    return slope


def _between(x: Real, values: Real, slopes: Real, knots: Real) -> tuple[Real, Real]:
    k = np.clip(np.searchsorted(knots, x, side="right") - 1, 0, knots.size - 2)
    h = knots[k + 1] - knots[k]
    t = (x - knots[k]) / h
    a, b, c, d = _hermite(values[k], values[k + 1], slopes[k] * h, slopes[k + 1] * h)
    return a + t * (b + t * (c + t * d)), (b + t * (2.0 * c + 3.0 * t * d)) / h


def _hermite(y0: Real, y1: Real, s0: Real, s1: Real) -> tuple[Real, Real, Real, Real]:
    return y0, s0, 3.0 * (y1 - y0) - 2.0 * s0 - s1, 2.0 * (y0 - y1) + s0 + s1


def _beyond(x: Real, value: Real, slope: Real, low: float, high: float, hardens: bool) -> tuple[Real, Real]:
    """Go on straight outside a table, in the direction that the kind of curve allows."""
    allowed = np.maximum if hardens else np.minimum
    outward = allowed(np.where(x > 0.0, slope, -slope), 0.0)
    out = np.maximum(x - high, low - x)
    outside = out > 0.0
    return np.where(outside, value + outward * out, value), np.where(outside, np.sign(x) * outward, slope)


def _softened(value: Real, slope: Real) -> tuple[Real, Real]:
    tail = _SOFT**2 / (2.0 * _SOFT - np.minimum(value, _SOFT))
    low = value < _SOFT
    return np.asarray(np.where(low, tail, value)), np.asarray(
        np.where(low, slope * (tail / _SOFT) ** 2, slope)
    )


def _cubics(value: Real, slope: Real, hardens: bool) -> Real:
    rows = np.zeros((CELLS + 2, 4))
    rows[1:-1] = np.stack(_hermite(value[:-1], value[1:], slope[:-1], slope[1:]), axis=1)
    rows[0, 0], rows[-1, 0] = value[0], value[-1]
    if hardens:
        rows[0, 1], rows[-1, 1] = min(slope[0], 0.0), max(slope[-1], 0.0)
    if not np.all(np.isfinite(rows)):
        raise InputError("a curve must stay finite over three times its part's travel")
    return rows
