"""The branch of steady motions followed over level, compiled.

References
----------
ascher1995
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boxwright.largesignal.equations import derivative, step
from boxwright.largesignal.ring import TOLERANCE, copy, largest_multiplier, newton

__all__ = ["CONVERGED", "SETTLED", "UNSETTLED", "follow"]

Real = NDArray[np.float64]

CONVERGED, SETTLED, UNSETTLED = 0.0, 1.0, 2.0
"""Closed by continuing the branch; only after letting the motion settle in time; not at all."""

_HALVINGS = 5
# Periods that a motion is given to settle in time, and how often that is tried before giving up.
_PERIODS = 60
_TRIES = 4
_UNSTABLE = 1.0 + 1e-4


@njit(cache=True, error_model="numpy")
def _settle(
    y: Real,
    omega: float,
    peak: float,
    substeps: int,
    rows: Real,
    inflow: Real,
    cubics: Real,
    ring: Real,
    work: Real,
) -> None:
    """Follow the motion in time for a while; the ring receives its last period."""
    steps, n = ring.shape
    e = np.empty(3)
    count = steps * substeps
    h = 2.0 * math.pi / (omega * count)
    for period in range(_PERIODS):
        for k in range(count):
            if period == _PERIODS - 1 and k % substeps == 0:
                for r in range(n):
                    ring[k // substeps, r] = y[r]
            for half in range(3):
                e[half] = peak * math.cos(2.0 * math.pi * (k + 0.5 * half) / count)
            step(y, e, h, rows, inflow, cubics, work, work[0], period < 0)


@njit(nogil=True, cache=True, error_model="numpy")
def follow(
    omega: float, peaks: Real, start: float, ring: Real, rest: Real, scale: Real, substeps: int,
    rows: Real, inflow: Real, cubics: Real, waves: Real, report: Real,
) -> None:  # fmt: skip
    """Follow the steady motion over levels, one after another.

    Parameters
    ----------
    omega : float
        [rad/s]
    peaks : ndarray, shape (nl,)
        Voltages in the order to go through. [V]
    start : float
        Voltage of the motion in ``ring``. [V]
    ring : ndarray, shape (steps, n)
        A guess of that motion on entry, the last level's motion on return.
    rest : ndarray, shape (n,)
        States without voltage.
    scale : ndarray, shape (n,)
        Size of each state at ``start``, > 0.
    substeps : int
        Time steps within each of the ring's when it has to be followed in time.
    waves : ndarray, shape (nl, steps, n + 2 + nc)
        Receives the states and what `derivative` appends at every point of every level.
    report : ndarray, shape (nl, 4)
        Receives a status, Newton rounds, the last correction, the largest multiplier.
    """
    steps, n = ring.shape
    width = waves.shape[2]
    out = np.empty(width)
    work = np.empty((3, width))
    cosine = np.empty(2 * steps)
    for k in range(2 * steps):
        cosine[k] = math.cos(math.pi * k / steps)
    turn = np.empty((n, n))
    h = 2.0 * math.pi / (omega * steps)
    before, guess = np.empty((steps, n)), np.empty((steps, n))
    for j in range(steps):
        for r in range(n):
            before[j, r] = rest[r]
    at, at_before = start, 0.0
    size, begun = np.empty(n), np.empty(n)
    for level in range(peaks.size):
        goal = peaks[level]
        rounds_all, status, off, multiplier = 0, UNSETTLED, np.inf, np.inf
        stride, halvings, tries = goal - at, 0, 0
        for r in range(n):
            size[r] = scale[r]
            for j in range(steps):
                size[r] = max(size[r], abs(ring[j, r] - rest[r]))
        while status == UNSETTLED and tries <= _TRIES:
            wanted = goal if abs(stride) >= abs(goal - at) else at + stride
            if tries == 0:
                ahead = (wanted - at) / (at - at_before) if at != at_before else 0.0
                for j in range(steps):
                    for r in range(n):
                        guess[j, r] = ring[j, r] + ahead * (ring[j, r] - before[j, r])
            else:
                # the branch ends here, or nothing would stay on it: see where the motion goes by itself
                for r in range(n):
                    begun[r] = ring[0, r] + 1e-3 * size[r]
                _settle(begun, omega, goal, substeps, rows, inflow, cubics, guess, work)
                for r in range(n):
                    for j in range(steps):
                        size[r] = max(size[r], abs(guess[j, r] - rest[r]))
                copy(guess, ring)
                copy(guess, before)
                at, at_before, wanted = goal, goal, goal
            rounds, off = newton(guess, wanted, cosine, h, rows, inflow, cubics, size, turn, out)
            rounds_all += rounds
            if off < TOLERANCE:
                if wanted != at:
                    copy(ring, before)
                    at_before = at
                copy(guess, ring)
                at = wanted
                if at == goal:
                    multiplier = largest_multiplier(turn)
                    if multiplier < _UNSTABLE:
                        status = CONVERGED if tries == 0 else SETTLED
                    else:
                        tries += 1
            elif tries == 0 and halvings < _HALVINGS and at != goal:
                halvings += 1
                stride *= 0.5
            else:
                tries += 1
        report[level, 0], report[level, 1], report[level, 2], report[level, 3] = (
            status,
            rounds_all,
            off,
            multiplier,
        )
        for j in range(steps):
            derivative(ring[j], goal * cosine[2 * j], rows, inflow, cubics, out)
            for k in range(n):
                waves[level, j, k] = ring[j, k]
            for k in range(n, width):
                waves[level, j, k] = out[k]
