"""The same box on a cold morning, in a hot car, in the mountains, and after years: one design for each."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from boxwright.air import STANDARD_PRESSURE, air, air_warnings
from boxwright.design import Design, PassiveOpening
from boxwright.errors import InputError
from boxwright.largesignal.heat import COPPER, STATED_AT

__all__ = ["AGEING", "Case", "aged", "at_altitude", "at_temperature", "cases_of"]

AGEING = 0.20
"""What a suspension gains in compliance over its life. Common practice, no source. [-]"""
COLD, HOT = 268.15, 313.15
"""A cold morning and a hot car: −5 and 40 °C. [K]"""
HIGH = 2000.0
"""[m]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A design as it is under other circumstances.

    Attributes
    ----------
    name : str
        In words.
    design : Design
    notes : tuple of str
        What changed and what was left out.
    """

    name: str
    design: Design
    notes: tuple[str, ...] = ()


def at_temperature(design: Design, temperature: float, *, humidity: float = 0.5) -> Case:
    """The design in air of another temperature, its pressure kept.

    Parameters
    ----------
    temperature : float
        [K]
    humidity : float
        Relative. [-]

    Notes
    -----
    Air by `boxwright.air.air`; the coil's resistance follows with that of copper from 20 °C. Suspensions stiffen in the
    cold, by how much depends on what they are made of: left out.
    """
    medium = air(temperature, design.air.pressure, humidity)
    ratio = 1.0 + COPPER * (temperature - STATED_AT)
    celsius = temperature - 273.15
    return Case(
        name=f"at {celsius:.0f} °C",
        design=replace(design, air=medium, driver=replace(design.driver, re=design.driver.re * ratio)),
        notes=(
            "suspensions stiffen in the cold and soften in the heat: not in these figures",
            *air_warnings(temperature, design.air.pressure, humidity),
        ),
    )


def at_altitude(design: Design, altitude: float) -> Case:
    """The design in thinner air, its temperature kept.

    Parameters
    ----------
    altitude : float
        Above sea level. [m]

    Notes
    -----
    The air load on the cones gets lighter by the same share as the air; it is part of mms and mmp and left as it is.
    """
    medium = air(design.air.temperature, STANDARD_PRESSURE, 0.5, altitude=altitude)
    return Case(
        name=f"at {altitude:.0f} m above the sea",
        design=replace(design, air=medium),
        notes=air_warnings(design.air.temperature, STANDARD_PRESSURE, 0.5, altitude=altitude),
    )


def aged(design: Design, softer: float = AGEING) -> Case:
    """The design with every suspension softer by a share.

    Parameters
    ----------
    softer : float
        Added to every compliance; above −1. [-]

    Notes
    -----
    The loss follows the suspension as between units: ``rms·√(cms₀/cms)``.
    """
    if not (math.isfinite(softer) and softer > -1.0):
        raise InputError(f"softer must be above −1, got {softer:g}")
    factor, loss = 1.0 + softer, 1.0 / math.sqrt(1.0 + softer)
    part = design.driver
    openings = tuple(
        replace(o, passive=replace(o.passive, cmp=o.passive.cmp * factor, rmp=o.passive.rmp * loss))
        if isinstance(o, PassiveOpening)
        else o
        for o in design.openings
    )
    driver = replace(part, cms=part.cms * factor, rms=part.rms * loss)
    words = "softer" if softer >= 0.0 else "stiffer"
    return Case(
        name=f"suspensions {abs(softer) * 100.0:.0f} % {words}",
        design=replace(design, driver=driver, openings=openings),
        notes=(f"{AGEING * 100.0:.0f} % over a life is common practice, no source",)
        if softer == AGEING
        else (),
    )


def cases_of(
    design: Design,
    *,
    cold: float = COLD,
    hot: float = HOT,
    altitude: float = HIGH,
    softer: float = AGEING,
) -> tuple[Case, ...]:
    """The design as it is, cold, hot, high up, and aged."""
    return (
        Case(name="as designed", design=design),
        at_temperature(design, cold),
        at_temperature(design, hot),
        at_altitude(design, altitude),
        aged(design, softer),
    )
