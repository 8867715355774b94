"""Numbers read off a level curve: how low it reaches and how even it is."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Passband", "find_passband"]

Real = NDArray[np.float64]

RIPPLE_SPAN = 8.0  # the ripple is read up to so many times the reach

_LEFT = 1e-3  # dB below the passband level that count as having left it
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
        Highest minus lowest level from the first peak to where the passband is left, at most three octaves above the
        reach. [dB]
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
    The reach is the lowest crossing above which the level holds on average over half an octave, so that neither a
    separate hump further down nor a dip higher up decides. A curve without an asymptote (bandpass) is followed
    downwards from its highest level instead. The ripple is read from the first peak to the last frequency at which the
    level is still that of the passband, at most three octaves above the reach: a slow fall towards high frequencies
    is not ripple.
    """
    grid = np.geomspace(low, high, _GRID)
    found = curve(grid)
    level = np.where(np.isfinite(found), found, -np.inf)
    start = int(np.argmax(level))
    if not np.isfinite(level[start]):
        return Passband(reference=float("nan"), reach=None, ripple=0.0)
    reference = min(asymptote, float(level[start]))
    edge = _edge(grid, level, reference - drop, start, np.isfinite(asymptote))
    if edge is None:
        return Passband(reference=reference, reach=None, ripple=0.0)
    reach = _crossing(curve, float(grid[edge]), float(grid[edge + 1]), reference - drop)
    return Passband(
        reference=reference, reach=reach, ripple=_ripple(level[edge + 1 :], grid[edge + 1 :], reference)
    )


def _edge(grid: Real, level: Real, target: float, highest: int, settles: bool) -> int | None:
    """Index of the last grid point below the passband; None when the curve is in it from the start."""
    span = round(0.5 * math.log(2.0) / math.log(grid[1] / grid[0]))
    rising = np.flatnonzero((level[:-1] < target) & (level[1:] >= target))
    if settles:
        for i in rising.tolist():
            if np.mean(level[i + 1 : i + 2 + span]) >= target:
                return i
    before = rising[rising < highest]
    return int(before[-1]) if before.size else None


def _ripple(level: Real, grid: Real, reference: float) -> float:
    """Highest minus lowest level from the first peak of a passband to where it is left for good. [dB]."""
    held = np.flatnonzero((level >= reference - _LEFT) & (grid <= RIPPLE_SPAN * grid[0]))
    peaks = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:])) + 1
    if not (held.size and peaks.size and peaks[0] <= held[-1]):
        return 0.0
    first, last = int(peaks[0]), int(held[-1])
    inner = level[first : last + 1]
    return max(
        _extreme(level, first + int(np.argmax(inner))) - _extreme(level, first + int(np.argmin(inner))), 0.0
    )
