"""Results of steady motion: waves as harmonics, one sine, and a map over frequency and level."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["ORDERS", "LevelMap", "Steady", "Wave"]

Real = NDArray[np.float64]

ORDERS = 8
"""Orders 0 (offset) to 7."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """One quantity over a period.

    Attributes
    ----------
    harmonics : ndarray, shape (..., 8)
        Peak amplitudes of orders 0 to 7; order 0 is the offset, with its sign.
    phase : ndarray, shape (..., 8)
        Of each against the voltage's cosine. [rad]
    lowest, highest : ndarray, shape (...)
        Extremes over the period.
    """

    harmonics: Real
    phase: Real
    lowest: Real
    highest: Real

    @property
    def distortion(self) -> Real:
        """Harmonics 2 to 7 together over the fundamental. [-]."""
        return np.asarray(np.sqrt(np.sum(self.harmonics[..., 2:] ** 2, axis=-1)) / self.harmonics[..., 1])

    def at(self, *index: int) -> Wave:
        """The wave of one frequency and level."""
        return Wave(
            harmonics=self.harmonics[index],
            phase=self.phase[index],
            lowest=self.lowest[index],
            highest=self.highest[index],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMap:
    """Steady motion over frequency and level.

    Attributes
    ----------
    frequency : ndarray, shape (nf,)
        [Hz]
    voltage : ndarray, shape (nl,)
        At the amplifier's terminals, rms. [V]
    driver : Wave, shapes (nf, nl, …)
        Travel of the cone. [m]
    current : Wave
        Through the coil. [A]
    openings : tuple of Wave
        Travel of a passive [m] or air speed in a vent [m/s].
    pressure : Wave
        At the listener; lowest and highest stay empty (nan). [Pa]
    chambers : tuple of Wave
        Pressure in each chamber. [Pa]
    settled : ndarray of bool, shape (nf, nl)
        False: no steady motion with the voltage's own period was found.
    jumped : ndarray of bool, shape (nf, nl)
        The branch from below ended here, or lost its hold, and the motion went elsewhere.
    two_ways : ndarray of bool, shape (nf, nl)
        Coming from above, the motion is another one.
    rounds : ndarray of int, shape (nf, nl)
        Newton rounds.
    correction : ndarray, shape (nf, nl)
        Last Newton correction, over each state's size. [-]
    multiplier : ndarray, shape (nf, nl)
        Factor by which a small disturbance grows over a period; below 1: it dies away. [-]
    down : LevelMap or None
        The same, coming from above.
    """

    frequency: Real
    voltage: Real
    driver: Wave
    current: Wave
    openings: tuple[Wave, ...]
    pressure: Wave
    chambers: tuple[Wave, ...]
    settled: NDArray[np.bool_]
    jumped: NDArray[np.bool_]
    two_ways: NDArray[np.bool_]
    rounds: NDArray[np.int64]
    correction: Real
    multiplier: Real
    down: LevelMap | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """Steady motion under one sine.

    Attributes
    ----------
    frequency : float
        [Hz]
    voltage : float
        At the amplifier's terminals, rms. [V]
    driver_travel : Wave
        [m]
    openings : tuple of Wave
        Travel of a passive [m] or air speed in a vent [m/s].
    current : Wave
        [A]
    pressure : Wave
        At the listener. [Pa]
    chambers : tuple of Wave
        Pressure in each chamber. [Pa]
    status : str
        "converged", "settled in time" (the branch from rest had ended), or "not settled".
    rounds : int
        Newton rounds from rest to here. [-]
    correction : float
        The last one over each state's size. [-]
    multiplier : float
        Factor by which a small disturbance grows over a period. [-]
    other : Steady or None
        The motion that the box keeps when the level comes down from above, if it is another one.
    remarks : tuple of str
        What the model assumes, and what was met on the way.
    """

    frequency: float
    voltage: float
    driver_travel: Wave
    openings: tuple[Wave, ...]
    current: Wave
    pressure: Wave
    chambers: tuple[Wave, ...]
    status: str
    rounds: int
    correction: float
    multiplier: float
    other: Steady | None
    remarks: tuple[str, ...]
