"""The branch of steady motions followed over level.

References
----------
ascher1995
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boxwright.largesignal.model import Model
from boxwright.largesignal.ring import TOLERANCE, newton, observe
from boxwright.largesignal.transient import march

__all__ = ["CONVERGED", "SETTLED", "UNSETTLED", "follow"]

Real = NDArray[np.float64]

CONVERGED, SETTLED, UNSETTLED = 0.0, 1.0, 2.0
"""Closed by continuing the branch; only after letting the motion settle in time; not at all."""

_HALVINGS = 5
# Periods that a motion is given to settle in time, and how often that is tried before giving up.
_PERIODS = 60
_TRIES = 2
_UNSTABLE = 1.0 + 1e-4


def follow(
    model: Model, omega: float, peaks: Real, ring: Real, scale: Real, substeps: int, waves: Real, report: Real
) -> None:
    """Follow the steady motion over levels, one after another.

    Parameters
    ----------
    omega : float
        [rad/s]
    peaks : ndarray, shape (nl,)
        Voltages in the order to go through. [V]
    ring : ndarray, shape (steps, n)
        A guess of the motion at the first on entry, the motion at the last on return.
    scale : ndarray, shape (n,)
        Size of each state at the first, > 0.
    substeps : int
        Time steps within each of the ring's when it has to be followed in time.
    waves : ndarray, shape (nl, steps, n + 2 + nc)
        Receives the states and what `equations.derivative` appends at every point of every level.
    report : ndarray, shape (nl, 4)
        Receives a status, Newton rounds, the last correction, the largest multiplier.

    Notes
    -----
    From level to level by the secant. Where Newton's method does not follow, in shorter strides; where those do not
    help either, or what is found would not last (a multiplier above 1), the motion is followed in time until it
    settles on whatever it goes to by itself.
    """
    steps = ring.shape[0]
    before = np.broadcast_to(model.rest, ring.shape).copy()
    at, at_before = float(peaks[0]), 0.0
    cosine = np.cos(2.0 * np.pi / steps * np.arange(steps))
    for level, goal in enumerate(map(float, peaks)):
        rounds_all, status, off, multiplier = 0, UNSETTLED, math.inf, math.inf
        stride, halvings, tries = goal - at, 0, 0
        size = np.maximum(scale, np.max(np.abs(ring - model.rest), axis=0))
        while status == UNSETTLED and tries <= _TRIES:
            wanted = goal if abs(stride) >= abs(goal - at) else at + stride
            if tries == 0:
                ahead = (wanted - at) / (at - at_before) if at != at_before else 0.0
                guess = ring + ahead * (ring - before)
            else:
                guess = _settled(model, ring[0] + 1e-3 * size, omega, goal, steps, substeps)
                if not np.all(np.isfinite(guess)):
                    break
                size = np.maximum(size, np.max(np.abs(guess - model.rest), axis=0))
                ring[:], before, at, at_before, wanted = guess, guess.copy(), goal, goal, goal
            rounds, off, turn = newton(model, guess, omega, wanted, size)
            rounds_all += rounds
            if off < TOLERANCE:
                if wanted != at:
                    before, at_before = ring.copy(), at
                ring[:], at = guess, wanted
                if at == goal:
                    multiplier = float(np.max(np.abs(np.linalg.eigvals(turn))))
                    if multiplier < _UNSTABLE:
                        status = CONVERGED if tries == 0 else SETTLED
                    else:
                        tries += 1
            elif tries == 0 and halvings < _HALVINGS and at != goal:
                halvings += 1
                stride *= 0.5
            else:
                tries += 1
        report[level] = status, rounds_all, off, multiplier
        observe(ring, goal * cosine, model.rows, model.inflow, model.cubics, waves[level])


def _settled(model: Model, start: Real, omega: float, peak: float, steps: int, substeps: int) -> Real:
    """Follow the motion in time for a while: its last period, shape (steps, n)."""
    count = _PERIODS * steps
    volts = peak * np.cos(2.0 * np.pi / steps * np.arange(-2, count + 3))
    record = np.empty((count, model.width))
    dt = 2.0 * math.pi / (omega * steps)
    march(start.copy(), volts, dt, substeps, model.rows, model.inflow, model.cubics, record)
    return record[-steps:, : start.size].copy()
