"""A driver's thermal network: coil and motor as two heat stores, and where they settle."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boxwright.errors import CannotSolve, InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from boxwright.parts import Driver

__all__ = ["RATED_RISE", "ThermalNetwork", "equilibrium_rise", "network_for"]

Real = NDArray[np.float64]

# What stands in for a data sheet that states no thermal values (common practice, no source).
RATED_RISE = 150.0
"""Temperature rise of the coil that the rated power is taken to lead to. [K]"""
COIL_SHARE = 0.6
"""Share of the whole thermal resistance that lies between coil and motor. [-]"""
COIL_SECONDS, MOTOR_SECONDS = 20.0, 1800.0
"""Time constants Rtv·Ctv and Rtm·Ctm. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ThermalNetwork:
    """Coil and motor as two heat stores in a chain.

    Attributes
    ----------
    rtv, rtm : float
        Thermal resistance from coil to motor and from motor to the air, > 0. [K/W]
    ctv, ctm : float
        Heat capacity of coil and motor, > 0. [J/K]
    assumed : tuple of str
        Which values no data sheet gave, in words.

    References
    ----------
    button1992, klippel2004heat
    """

    rtv: float
    ctv: float
    rtm: float
    ctm: float
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what is not a network."""
        for name in ("rtv", "ctv", "rtm", "ctm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                unit = "K/W" if name.startswith("r") else "J/K"
                raise InputError(f"{name} must be > 0 {unit}, got {value:g}")

    @property
    def resistance(self) -> float:
        """From the coil to the air, once everything is warm. [K/W]."""
        return self.rtv + self.rtm

    @property
    def time_constants(self) -> tuple[float, float]:
        """Of the coil and of the motor, as a step of power shows them. [s].

        Roots of ``τ² − (Rtv·Ctv + Rtm·Ctm + Rtm·Ctv)·τ + Rtv·Ctv·Rtm·Ctm = 0``.
        """
        product = self.rtv * self.ctv * self.rtm * self.ctm
        middle = 0.5 * (self.rtv * self.ctv + self.rtm * self.ctm + self.rtm * self.ctv)
        slow = middle + math.sqrt(middle * middle - product)
        return product / slow, slow

    def rise(self, power: float, time: ArrayLike) -> tuple[Real, Real]:
        """Rise of coil and motor at a constant power that begins cold at time 0. [K].

        Parameters
        ----------
        power : float
            Turned into heat in the coil. [W]
        time : array_like, shape (nt,)
            [s]

        Returns
        -------
        coil, motor : ndarray, shape (nt,)
        """
        t = np.asarray(time, dtype=np.float64)
        fast, slow = self.time_constants
        early, late = np.exp(-t / fast), np.exp(-t / slow)
        # the coil's first slope is power/ctv and the motor's is zero: that fixes both shares
        share = (self.resistance - slow / self.ctv) / (fast - slow) * fast
        coil = power * (self.resistance - share * early - (self.resistance - share) * late)
        own = fast / (fast - slow)
        motor = power * self.rtm * (1.0 - own * early - (1.0 - own) * late)
        return np.asarray(coil), np.asarray(motor)

    def beside(self, count: int) -> ThermalNetwork:
        """That of ``count`` equal ones which share the power."""
        return replace(
            self, rtv=self.rtv / count, rtm=self.rtm / count, ctv=self.ctv * count, ctm=self.ctm * count
        )


def network_for(
    driver: Driver,
    *,
    rated_rise: float = RATED_RISE,
    coil_share: float = COIL_SHARE,
    seconds: tuple[float, float] = (COIL_SECONDS, MOTOR_SECONDS),
) -> ThermalNetwork:
    """Thermal network of a driver of which only the rated power is known.

    Parameters
    ----------
    driver : Driver
        With a pmax.
    rated_rise : float
        Rise of the coil at the rated power. [K]
    coil_share : float
        Of the resistance that lies between coil and motor, 0 to 1. [-]
    seconds : tuple of float
        Rtv·Ctv and Rtm·Ctm. [s]

    Raises
    ------
    InputError
        If the driver states no pmax, or a value is not positive.

    Notes
    -----
    ``Rtv + Rtm = rated_rise/pmax``. The rise, the split and the times are common practice, no source; ``assumed`` of
    the answer names them.
    """
    if driver.pmax is None:
        raise InputError(
            f"driver {driver.name or '(unnamed)'} must state pmax for its temperature, got none",
            mend="state pmax, or give a thermal network",
        )
    if not (math.isfinite(rated_rise) and rated_rise > 0.0):
        raise InputError(f"rated_rise must be > 0 K, got {rated_rise:g}")
    if not 0.0 < coil_share < 1.0:
        raise InputError(f"coil_share must be > 0 and < 1, got {coil_share:g}")
    whole = rated_rise / driver.pmax
    rtv, rtm = coil_share * whole, (1.0 - coil_share) * whole
    return ThermalNetwork(
        rtv=rtv,
        rtm=rtm,
        ctv=seconds[0] / rtv,
        ctm=seconds[1] / rtm,
        assumed=(
            f"the coil is taken to rise by {rated_rise:.0f} K at the rated {driver.pmax:.0f} W",
            f"{coil_share * 100.0:.0f} % of that between coil and motor, with {seconds[0]:.0f} s; "
            f"the motor with {seconds[1] / 60.0:.0f} min",
        ),
    )


def equilibrium_rise(power: Callable[[float], float], resistance: float) -> float:
    """Rise at which a coil gives off as much heat as is made in it, coming from the cold. [K].

    Parameters
    ----------
    power : callable
        Heat over the rise. [W] over [K]
    resistance : float
        Thermal resistance to the air. [K/W]

    Raises
    ------
    CannotSolve
        If it would grow beyond 10 000 K.

    Notes
    -----
    With voltage P0 on a bare resistance, P0/(1 + α·ΔT), the answer is ``(√(1 + 4α·R·P0) − 1)/(2α)``.
    """
    from scipy.optimize import brentq

    def surplus(rise: float) -> float:
        return resistance * power(rise) - rise

    low, step = 0.0, max(resistance * power(0.0) / 64.0, 1e-9)
    if surplus(low) <= 0.0:
        return 0.0
    while surplus(low + step) > 0.0:
        low += step
        step *= 1.1
        if low > 1e4:
            raise CannotSolve("the coil would grow hotter than 10 000 K: the voltage cannot be meant")
    return float(brentq(surplus, low, low + step, xtol=1e-10, rtol=1e-13))
