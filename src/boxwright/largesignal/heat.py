"""Heat in the voice coil: how warm it gets, and what level and damping that costs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import filters, placement
from boxwright.acoustics.motion import Motion, solve
from boxwright.compound import equivalent_driver
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal.thermal import RATED_RISE, ThermalNetwork, equilibrium_rise, network_for

if TYPE_CHECKING:
    from boxwright.design import Design
    from boxwright.parts import Driver

__all__ = [
    "ALUMINIUM",
    "COPPER",
    "Programme",
    "Warming",
    "heat_up",
    "music",
    "sine",
]

Real = NDArray[np.float64]

COPPER = 0.00393
"""Rise of the resistance of copper with each kelvin, at 20 °C. [1/K]"""
ALUMINIUM = 0.00403
"""The same of aluminium (from memory). [1/K]"""
STATED_AT = 293.15
"""Temperature at which a data sheet's resistance counts. [K]"""

MUSIC_CREST = 12.0
"""Peak over root mean square of a bass programme. [dB]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """What is played: a voltage spread over frequencies.

    Attributes
    ----------
    name : str
        In words.
    voltage : float
        Of the whole before the filters, rms, > 0. [V]
    frequency : tuple of float
        [Hz]
    share : tuple of float
        Of the squared voltage at each frequency; they add up to 1. [-]
    """

    name: str
    voltage: float
    frequency: tuple[float, ...]
    share: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what cannot be played."""
        if not (math.isfinite(self.voltage) and self.voltage > 0.0):
            raise InputError(f"voltage must be > 0 V, got {self.voltage:g}")
        if not self.frequency or len(self.frequency) != len(self.share):
            raise InputError(
                f"a programme must have a share for each frequency, got {len(self.share)} for {len(self.frequency)}"
            )
        if not all(math.isfinite(f) and f > 0.0 for f in self.frequency):
            raise InputError("frequency of a programme must be > 0 Hz throughout")
        if min(self.share) < 0.0 or not math.isclose(sum(self.share), 1.0, rel_tol=1e-6):
            raise InputError(f"shares must be ≥ 0 and add up to 1, got {sum(self.share):g}")


def sine(frequency: float, voltage: float) -> Programme:
    """A steady sine; voltage rms. [Hz], [V]."""
    return Programme(
        name=f"a steady sine at {frequency:.3g} Hz", voltage=voltage, frequency=(frequency,), share=(1.0,)
    )


def music(
    peak_voltage: float,
    *,
    crest: float = MUSIC_CREST,
    low: float = 20.0,
    high: float = 100.0,
    points: int = 48,
) -> Programme:
    """A programme with equal power in each octave from low to high.

    Parameters
    ----------
    peak_voltage : float
        Highest instantaneous voltage; for an amplifier at its limit √2 times its rms limit. [V]
    crest : float
        Peak over rms; common practice, no source. [dB]
    low, high : float
        [Hz]
    points : int
        Frequencies that stand for it. [-]
    """
    if not 0.0 < low < high:
        raise InputError(f"a programme must reach from a low to a higher note, got {low:g} to {high:g} Hz")
    edges = np.geomspace(low, high, points + 1)
    middles = np.sqrt(edges[:-1] * edges[1:])
    return Programme(
        name=f"programme from {low:.3g} to {high:.3g} Hz, peaks {crest:.3g} dB over its mean",
        voltage=peak_voltage * 10.0 ** (-crest / 20.0),
        frequency=tuple(float(f) for f in middles),
        share=(1.0 / points,) * points,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Warming:
    """What heat does over the time of a programme.

    Attributes
    ----------
    time : ndarray, shape (nt,)
        [s]
    coil, motor : ndarray, shape (nt,)
        Temperature. [K]
    re_ratio : ndarray, shape (nt,)
        Resistance over the data sheet's. [-]
    power : ndarray, shape (nt,)
        Heat made in the coils. [W]
    level_loss : ndarray, shape (nt,)
        Of the whole programme against coils at 20 °C. [dB]
    frequency, frequency_loss : ndarray, shape (nf,)
        The programme's frequencies, and what is lost at each at the end. [Hz], [dB]
    final_coil, final_re_ratio, final_power, final_level_loss : float
        After as long as it takes. [K], [-], [W], [dB]
    qts_cold, qts_hot : float
        Total Q of the driver at 20 °C and at the final temperature. [-]
    network : ThermalNetwork
        Of all drivers together.
    notes : tuple of str
        What the figures rest on, and warnings, in words.
    """

    time: Real
    coil: Real
    motor: Real
    re_ratio: Real
    power: Real
    level_loss: Real
    frequency: Real
    frequency_loss: Real
    final_coil: float
    final_re_ratio: float
    final_power: float
    final_level_loss: float
    qts_cold: float
    qts_hot: float
    network: ThermalNetwork
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain lists and numbers, SI, for JSON."""
        curves = {
            "time_s": self.time,
            "coil_k": self.coil,
            "motor_k": self.motor,
            "re_ratio": self.re_ratio,
            "power_w": self.power,
            "level_loss_db": self.level_loss,
            "frequency_hz": self.frequency,
            "frequency_loss_db": self.frequency_loss,
        }
        return {
            **{name: curve.tolist() for name, curve in curves.items()},
            "final": {
                "coil_k": self.final_coil,
                "re_ratio": self.final_re_ratio,
                "power_w": self.final_power,
                "level_loss_db": self.final_level_loss,
                "qts_cold": self.qts_cold,
                "qts_hot": self.qts_hot,
            },
            "notes": list(self.notes),
        }


class _Electrics:
    """Heat and loss of level over the coil's resistance; everything else of the box is as it was."""

    def __init__(self, design: Design, programme: Programme, driver: Driver, alpha: float) -> None:
        frequency = np.array(programme.frequency)
        motion: Motion = solve(design, driver, frequency)
        gain2 = np.abs(filters.cascade(design.source.filters, frequency)) ** 2
        self.drive2 = programme.voltage**2 * np.array(programme.share) * gain2
        self.total = motion.impedance + design.source.series_resistance
        carried = np.abs(motion.outside * placement.transfer(design.placement, design.air, frequency)) ** 2
        self.pressure2 = self.drive2 * carried
        self.re = driver.re
        self.alpha = alpha

    def ratio(self, warmer: float) -> float:
        """Resistance over the data sheet's, so many kelvins above 20 °C. [-]."""
        return max(1.0 + self.alpha * warmer, 1e-3)

    def power(self, warmer: float) -> float:
        """Heat made in the coil. [W]."""
        ratio = self.ratio(warmer)
        hot = self.total + self.re * (ratio - 1.0)
        return float(np.sum(self.drive2 / np.abs(hot) ** 2) * self.re * ratio)

    def losses(self, warmer: float) -> Real:
        """Level lost at each frequency. [dB].

        Everything that moves goes with the current, so the loss is that of the current.
        """
        hot = self.total + self.re * (self.ratio(warmer) - 1.0)
        return np.asarray(20.0 * np.log10(np.abs(hot / self.total)), dtype=np.float64)

    def loss(self, warmer: float) -> float:
        """Level lost of the whole programme. [dB]."""
        left = np.sum(self.pressure2 * 10.0 ** (-self.losses(warmer) / 10.0))
        return float(-10.0 * np.log10(left / np.sum(self.pressure2)))


def heat_up(
    design: Design,
    programme: Programme,
    *,
    duration: float = 1800.0,
    network: ThermalNetwork | None = None,
    alpha: float = COPPER,
    start: tuple[float, float] | None = None,
    points: int = 200,
) -> Warming:
    """Temperatures, resistance, level and damping while a programme plays.

    Parameters
    ----------
    design : Design
        Its filters and cable count; its air is what the motor gives its heat to.
    programme : Programme
        From `sine` or `music`.
    duration : float
        > 0. [s]
    network : ThermalNetwork, optional
        Of one driver; without one, what its rated power implies (`network_for`).
    alpha : float
        Of the coil's wire. [1/K]
    start : tuple of float, optional
        Temperature of coil and motor when it begins; by default that of the air. [K]
    points : int
        Moments that are answered for, evenly over the logarithm of time. [-]

    Returns
    -------
    Warming

    Raises
    ------
    InputError
        If neither a network nor pmax is known, or a value is out of range.

    Notes
    -----
    ``Ctv·Tv' = P − (Tv − Tm)/Rtv`` and ``Ctm·Tm' = (Tv − Tm)/Rtv − (Tm − Ta)/Rtm`` with ``P = re(Tv)·Σ V²/|Z + re(Tv) −
    re|²`` over the programme's frequencies and ``re(T) = re·(1 + α·(T − 20 °C))``: with a voltage source the power
    falls as the coil warms. Only the coil's resistance makes heat here; eddy currents in the motor and the air that the
    cone pumps past the coil are left out. The tuning of the box does not change: no mass and no spring does.

    References
    ----------
    button1992, klippel2004heat
    """
    from scipy.integrate import solve_ivp

    if not (math.isfinite(duration) and duration > 0.0):
        raise InputError(f"duration must be > 0 s, got {duration:g}")
    driver = equivalent_driver(design.driver, design.arrangement)
    whole = network_for(driver) if network is None else network.beside(design.arrangement.count)
    ambient = design.air.temperature
    coil0, motor0 = start if start is not None else (ambient, ambient)
    electrics = _Electrics(design, programme, driver, alpha)

    def slope(_: float, rise: Real) -> list[float]:
        coil, motor = float(rise[0]), float(rise[1])
        across = (coil - motor) / whole.rtv
        made = electrics.power(coil + ambient - STATED_AT)
        return [(made - across) / whole.ctv, (across - motor / whole.rtm) / whole.ctm]

    first = min(0.01 * whole.time_constants[0], 0.5 * duration)
    time = np.concatenate(([0.0], np.geomspace(first, duration, points - 1)))
    solved = solve_ivp(
        slope,
        (0.0, duration),
        [coil0 - ambient, motor0 - ambient],
        method="LSODA",
        t_eval=time,
        rtol=1e-8,
        atol=1e-8,
    )
    if not solved.success:
        raise CannotSolve(f"the temperatures did not settle: {solved.message}")
    coil, motor = solved.y + ambient
    warmer = coil - STATED_AT
    final = equilibrium_rise(lambda rise: electrics.power(rise + ambient - STATED_AT), whole.resistance)
    final_warmer = final + ambient - STATED_AT
    hot = replace(driver, re=driver.re * electrics.ratio(final_warmer))
    return Warming(
        time=time,
        coil=coil,
        motor=motor,
        re_ratio=np.array([electrics.ratio(t) for t in warmer]),
        power=np.array([electrics.power(t) for t in warmer]),
        level_loss=np.array([electrics.loss(t) for t in warmer]),
        frequency=np.array(programme.frequency),
        frequency_loss=electrics.losses(float(warmer[-1])),
        final_coil=final + ambient,
        final_re_ratio=hot.re / driver.re,
        final_power=electrics.power(final_warmer),
        final_level_loss=electrics.loss(final_warmer),
        qts_cold=driver.qts,
        qts_hot=hot.qts,
        network=whole,
        notes=_notes(programme, whole, driver, final, electrics.power(final_warmer)),
    )


def _notes(
    programme: Programme, network: ThermalNetwork, driver: Driver, final: float, power: float
) -> tuple[str, ...]:
    found = [
        programme.name,
        *network.assumed,
        "the tuning of the box stays: heat changes no mass and no spring",
    ]
    if driver.pmax is not None and power > driver.pmax:
        found.append(f"{power:.0f} W of heat is more than the rated {driver.pmax:.0f} W, even when warm")
    if final > RATED_RISE:
        found.append(
            f"the coil would end {final:.0f} K above the air; beyond about {RATED_RISE:.0f} K its glue is at risk "
            "(common practice, no source)"
        )
    return tuple(found)
