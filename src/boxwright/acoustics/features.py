"""Numbers read off a level curve: how low it reaches and how even it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Passband", "find_passband"]

Real = NDArray[np.float64]

RIPPLE_SPAN = 8.0  # the ripple is read up to so many times the reach

_GRID = 160
_ROUNDS = 3
_POINTS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Passband:
    """Reach and evenness of a level curve.

    Attributes
    ----------
    reference : float
        Passband level that the reach refers to. [dB]
    reach : float or None
        Lowest frequency of the unbroken band within ``drop`` of the reference. [Hz]
    ripple : float
        Highest minus lowest level from the first peak up to three octaves above the reach. [dB]
    """

    reference: float
    reach: float | None
    ripple: float


def _crossing(curve: Callable[[Real], Real], low: float, high: float, target: float) -> float:
    """Where a curve passes ``target`` between a frequency below it and one above it. [Hz]."""
    level = np.empty(0)
    grid = np.empty(0)
    at = 1
    for _ in range(_ROUNDS):
        grid = np.geomspace(low, high, _POINTS)
        level = curve(grid)
        below = np.flatnonzero(level < target)
        at = int(min(below[-1] + 1, _POINTS - 1)) if below.size else 1
        low, high = float(grid[at - 1]), float(grid[at])
    rise = level[at] - level[at - 1]
    share = (target - level[at - 1]) / rise if rise > 0.0 else 1.0
    return float(low * (high / low) ** min(max(share, 0.0), 1.0))


def _extreme(x: Real, at: int) -> float:
    """Height of the parabola through a sample and its neighbours at its vertex."""
    if at in (0, x.size - 1):
        return float(x[at])
    bend = x[at - 1] - 2.0 * x[at] + x[at + 1]
    return float(x[at] - 0.125 * (x[at + 1] - x[at - 1]) ** 2 / bend) if bend != 0.0 else float(x[at])


def find_passband(
    curve: Callable[[Real], Real], *, low: float, high: float, asymptote: float, drop: float
) -> Passband:
    """Read reach and ripple off a level curve.

    Parameters
    ----------
    curve : callable
        Level over frequency, shape (nf,) to (nf,). [dB]
    low, high : float
        Range that is searched. [Hz]
    asymptote : float
        Level that the curve tends to far above its lower edge; the passband level is the smaller of this and the
        highest level found. [dB]
    drop : float
        What the reach is defined by, e.g. half power. [dB]

    Notes
    -----
    The band is followed downwards from the highest level until it falls ``drop`` below the reference, so a separate
    hump further down does not count as reach.
    """
    grid = np.geomspace(low, high, _GRID)
    level = curve(grid)
    usable = np.where(np.isfinite(level), level, -np.inf)
    start = int(np.argmax(usable))
    if not np.isfinite(usable[start]):
        return Passband(reference=float("nan"), reach=None, ripple=0.0)
    reference = min(asymptote, float(usable[start]))
    under = np.flatnonzero(usable[:start] < reference - drop)
    if under.size == 0:
        return Passband(reference=reference, reach=None, ripple=0.0)
    edge = int(under[-1])
    reach = _crossing(curve, float(grid[edge]), float(grid[edge + 1]), reference - drop)

    band = usable[(grid >= reach) & (grid <= RIPPLE_SPAN * reach)]
    if band.size < 3:
        return Passband(reference=reference, reach=reach, ripple=0.0)
    peaks = np.flatnonzero((band[1:-1] > band[:-2]) & (band[1:-1] >= band[2:])) + 1
    ripple = 0.0
    if peaks.size:
        tail = band[peaks[0] - 1 :]
        inner = tail[1:]
        ripple = _extreme(tail, 1 + int(np.argmax(inner))) - _extreme(tail, 1 + int(np.argmin(inner)))
    return Passband(reference=reference, reach=reach, ripple=max(ripple, 0.0))
