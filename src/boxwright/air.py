"""The medium: density, speed of sound and viscosity of moist air."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from boxwright.errors import InputError

__all__ = ["Air", "air", "air_warnings", "pressure_at_altitude", "standard_air"]

STANDARD_PRESSURE = 101325.0
_ZERO_CELSIUS = 273.15

# Hard limits: beyond them the formulas are not even a rough guide.
_LIMITS = {
    "temperature": (233.15, 333.15, "K"),
    "pressure": (20000.0, 120000.0, "Pa"),
    "humidity": (0.0, 1.0, "(0 to 100 %)"),
    "altitude": (-2000.0, 11000.0, "m"),
    "co2": (0.0, 0.01, "(mole fraction)"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air as the rest of the package needs it.

    Attributes
    ----------
    density : float
        ρ. [kg/m³]
    speed_of_sound : float
        c. [m/s]
    viscosity : float
        Dynamic viscosity μ. [Pa·s]
    pressure : float
        Static pressure P0. [Pa]
    temperature : float
        Thermodynamic temperature. [K]
    gamma : float
        Ratio of the specific heats. [-]
    prandtl : float
        Prandtl number, viscosity over thermal diffusivity. [-]
    """

    density: float
    speed_of_sound: float
    viscosity: float = 1.82e-5
    pressure: float = STANDARD_PRESSURE
    temperature: float = 293.15
    gamma: float = 1.4
    prandtl: float = 0.71

    @property
    def bulk_modulus(self) -> float:
        """ρc², adiabatic. [Pa]."""
        return self.density * self.speed_of_sound**2


def air(
    temperature: float = 293.15,
    pressure: float = STANDARD_PRESSURE,
    humidity: float = 0.5,
    altitude: float | None = None,
    co2: float = 400e-6,
) -> Air:
    """Moist air from what a thermometer, a barometer and a hygrometer say.

    Parameters
    ----------
    temperature : float
        233.15 to 333.15. [K]
    pressure : float
        20 000 to 120 000. [Pa]
    humidity : float
        Relative, 0 to 1. [-]
    altitude : float or None
        Above sea level, in place of the pressure; −2000 to 11 000. [m]
    co2 : float
        Mole fraction of carbon dioxide, 0 to 0.01. [-]

    Returns
    -------
    Air
        With γ and the Prandtl number at their usual values.

    Raises
    ------
    InputError
        If a value is outside those ranges, or both pressure and altitude are given.

    Notes
    -----
    Density: CIPM-2007. Speed of sound: the 16 coefficients of Cramer, valid from 0 to 30 °C and from 75 to
    102 kPa (:func:`air_warnings` says when that is left). The mole fraction of water in both comes from the
    saturation pressure of CIPM-2007; Cramer's own differs in the fourth digit, which moves the speed of sound
    by less than 1 mm/s. Viscosity: Sutherland's formula for dry air with the constants of ISO 2533.

    References
    ----------
    picard2008, cramer1993, iso2533
    """
    pressure = _checked(temperature, pressure, humidity, altitude, co2)
    water = _water(temperature, pressure, humidity)
    return Air(
        density=_density(temperature, pressure, water, co2),
        speed_of_sound=_speed_of_sound(temperature - _ZERO_CELSIUS, pressure, water, co2),
        viscosity=1.458e-6 * temperature**1.5 / (temperature + 110.4),
        pressure=pressure,
        temperature=temperature,
    )


def air_warnings(
    temperature: float = 293.15,
    pressure: float = STANDARD_PRESSURE,
    humidity: float = 0.5,
    altitude: float | None = None,
    co2: float = 400e-6,
) -> tuple[str, ...]:
    """Say where the same arguments of :func:`air` leave the range in which its formulas were verified.

    Returns
    -------
    tuple of str
        One sentence each; empty inside the range.

    References
    ----------
    cramer1993
    """
    pressure = _checked(temperature, pressure, humidity, altitude, co2)
    found = []
    celsius = temperature - _ZERO_CELSIUS
    if not 0.0 <= celsius <= 30.0:
        found.append(
            f"air at {celsius:.1f} °C: the formula for the speed of sound was made for 0 to 30 °C "
            "and is extrapolated"
        )
    if not 75e3 <= pressure <= 102e3:
        found.append(
            f"air at {pressure / 1e3:.1f} kPa: the formula for the speed of sound was made for 75 to 102 kPa "
            "and is extrapolated"
        )
    if _water(temperature, pressure, humidity) > 0.06:
        found.append(
            "air this warm and damp holds more than 6 % of water, beyond what the formula for the speed of "
            "sound was made for"
        )
    return tuple(found)


def pressure_at_altitude(altitude: float) -> float:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float
        Geometric height above sea level, −2000 to 11 000. [m]

    Returns
    -------
    float
        Static pressure. [Pa]

    Raises
    ------
    InputError
        If altitude is outside that range.

    Notes
    -----
    The troposphere of ISO 2533: 288.15 K at sea level and 6.5 K less with each geopotential kilometre.
    Heights are converted with an earth radius of 6 356 766 m.

    References
    ----------
    iso2533
    """
    _check("altitude", altitude)
    earth_radius, lapse, sea_level = 6356766.0, 0.0065, 288.15
    geopotential = earth_radius * altitude / (earth_radius + altitude)
    exponent = 9.80665 / (287.05287 * lapse)
    return STANDARD_PRESSURE * math.pow(1.0 - lapse * geopotential / sea_level, exponent)


@cache
def standard_air() -> Air:
    """Air at 20 °C, 101 325 Pa and 50 % relative humidity."""
    return air()


def _check(name: str, value: float) -> None:
    least, most, unit = _LIMITS[name]
    if not least <= value <= most:  # false for NaN as well
        raise InputError(f"{name} must be from {least:g} to {most:g} {unit}, got {value:g}")


def _checked(
    temperature: float, pressure: float, humidity: float, altitude: float | None, co2: float
) -> float:
    """Check the arguments and return the pressure they state."""
    if altitude is not None:
        if pressure != STANDARD_PRESSURE:
            raise InputError(
                f"pressure and altitude must not both be given, got {pressure:g} Pa and {altitude:g} m",
                mend="leave one of them out",
            )
        pressure = pressure_at_altitude(altitude)
    _check("temperature", temperature)
    _check("pressure", pressure)
    _check("humidity", humidity)
    _check("co2", co2)
    return pressure


def _water(temperature: float, pressure: float, humidity: float) -> float:
    """Mole fraction of water vapour (CIPM-2007)."""
    saturation = math.exp(
        1.2378847e-5 * temperature**2 - 1.9121316e-2 * temperature + 33.93711047 - 6.3431645e3 / temperature
    )
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * (temperature - _ZERO_CELSIUS) ** 2
    return humidity * enhancement * saturation / pressure


def _density(temperature: float, pressure: float, water: float, co2: float) -> float:
    """Density by CIPM-2007."""
    celsius = temperature - _ZERO_CELSIUS
    ratio = pressure / temperature
    compressibility = (
        1.0
        - ratio
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * water
            + (1.9898e-4 - 2.376e-6 * celsius) * water**2
        )
        + ratio**2 * (1.83e-11 - 0.765e-8 * water**2)
    )
    dry = (3.483740 + 1.4446 * (co2 - 0.0004)) * 1e-3  # molar mass of dry air over the gas constant
    return dry * ratio / compressibility * (1.0 - 0.3780 * water)


def _speed_of_sound(t: float, p: float, xw: float, xc: float) -> float:
    """Speed of sound by Cramer; t in °C, p in Pa, mole fractions of water and carbon dioxide."""
    return (
        331.5024
        + 0.603055 * t
        - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * xw
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * xc
        - 2.835149 * xw**2
        - 2.15e-13 * p**2
        + 29.179762 * xc**2
        + 0.000486 * xw * p * xc
    )
