"""The medium: density, speed of sound and viscosity of moist air."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Air", "standard_air"]


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
    """

    density: float
    speed_of_sound: float
    viscosity: float = 1.82e-5
    pressure: float = 101325.0
    temperature: float = 293.15

    @property
    def bulk_modulus(self) -> float:
        """ρc², adiabatic. [Pa]."""
        return self.density * self.speed_of_sound**2


def standard_air() -> Air:
    """Air at 20 °C, 101 325 Pa and 50 % relative humidity."""
    return Air(density=1.199314, speed_of_sound=343.9869)
