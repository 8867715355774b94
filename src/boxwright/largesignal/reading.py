"""Reading a level map between its levels: extremes of waves, values at a voltage, voltages at a value."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boxwright.largesignal.waves import ORDERS, Wave

__all__ = ["crossings", "extremes", "held", "log", "read"]

Real = NDArray[np.float64]

_ANGLES, _FINE = 128, 16


def extremes(wave: Wave) -> tuple[Real, Real]:
    """Extremes between the points of the period, from the harmonics; those at the points where they are farther."""
    angle = 2.0 * np.pi * np.arange(_ANGLES) / _ANGLES
    phasors = wave.harmonics * np.exp(1j * wave.phase)
    phasors[..., 0] = wave.harmonics[..., 0]
    signal = (phasors @ np.exp(1j * np.arange(ORDERS)[:, None] * angle)).real

    def top(values: Real) -> Real:
        at = np.argmax(values, axis=-1)[..., None]
        before, peak, after = (np.take_along_axis(values, (at + k) % _ANGLES, -1)[..., 0] for k in (-1, 0, 1))
        bend = np.maximum(2.0 * peak - before - after, 1e-300)
        return np.asarray(peak + 0.125 * (after - before) ** 2 / bend)

    return np.minimum(-top(-signal), wave.lowest), np.maximum(top(signal), wave.highest)


def log(values: Real) -> Real:
    """Natural logarithm, nothing lower than that of 1e-12."""
    return np.asarray(np.log(np.maximum(values, 1e-12)))


def held(values: Real, followed: NDArray[np.bool_]) -> Real:
    """The last value that was followed, held on; (nf, nl, m)."""
    last = np.maximum(followed.sum(axis=1) - 1, 0)
    index = np.minimum(np.arange(values.shape[1])[None, :], last[:, None])
    held = np.take_along_axis(values, index[:, :, None], axis=1)
    return np.where(np.isfinite(held), held, np.where(held > 0.0, 690.0, -690.0))


def read(grid: Real, values: Real, at: Real) -> Real:
    """Values (nf, nl) read at one place a frequency, on straight lines beyond the ends."""
    from scipy.interpolate import PchipInterpolator

    found = np.empty(at.shape)
    for k in range(at.size):
        x = float(at[k])
        if not math.isfinite(x):
            found[k] = np.nan
        elif x < grid[0]:
            slope = (values[k, 1] - values[k, 0]) / (grid[1] - grid[0])
            found[k] = values[k, 0] + slope * (x - grid[0])
        else:
            found[k] = PchipInterpolator(grid, values[k])(min(x, float(grid[-1])))
    return found


def crossings(grid: Real, values: Real) -> Real:
    """Where values (nf, nl, m) first rise through zero, shape (nf, m); inf: nowhere on the grid.

    What is above zero from the lowest level on is followed down on a straight line.
    """
    from scipy.interpolate import PchipInterpolator

    fine = np.interp(np.arange((grid.size - 1) * _FINE + 1) / _FINE, np.arange(grid.size), grid)
    curves = np.asarray(PchipInterpolator(grid, values, axis=1)(fine))
    above = curves > 0.0
    first = np.argmax(above, axis=1)
    found = np.where(above.any(axis=1), 0.0, np.inf)
    before = np.maximum(first - 1, 0)
    high = np.take_along_axis(curves, first[:, None], axis=1)[:, 0]
    low = np.take_along_axis(curves, before[:, None], axis=1)[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = fine[before] + (fine[first] - fine[before]) * (-low) / (high - low)
        slope = (values[:, 1] - values[:, 0]) / (grid[1] - grid[0])
        below = np.where(slope > 0.0, grid[0] - values[:, 0] / slope, -np.inf)
    return np.where(np.isinf(found), np.inf, np.where(first > 0, inside, below))
