"""Moist air against the published formulas' values, CoolProp's humid air and the hydrostatic equation."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from tests.support.cases import Case, load

from boxwright.air import Air, air, air_warnings, pressure_at_altitude, standard_air
from boxwright.errors import InputError


@pytest.mark.parametrize("case", load("air.toml"), ids=lambda case: case.name)
def test_density_and_speed_of_sound(case: Case) -> None:
    found = air(case.inputs["celsius"] + 273.15, case.inputs["pressure"], case.inputs["humidity"])
    case.check(density=found.density, speed_of_sound=found.speed_of_sound)


@pytest.mark.parametrize("humidity", [0.0, 0.3, 0.6, 1.0])
@pytest.mark.parametrize("pressure", [75e3, 90e3, 101325.0, 105e3])
@pytest.mark.parametrize("celsius", [0.5, 10.0, 20.0, 30.0])
def test_density_equals_coolprop(celsius: float, pressure: float, humidity: float) -> None:
    # reference library: CoolProp's humid air, by virial coefficients, independent of CIPM
    temperature = celsius + 273.15
    water = HAPropsSI("W", "T", temperature, "P", pressure, "R", humidity)
    per_dry_kilogram = HAPropsSI("Vda", "T", temperature, "P", pressure, "R", humidity)
    expected = (1.0 + water) / per_dry_kilogram
    assert air(temperature, pressure, humidity).density == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("celsius", [0.0, 10.0, 20.0, 30.0])
def test_dry_speed_of_sound_equals_coolprop(celsius: float) -> None:
    # reference library: the equation of state of dry air, no carbon dioxide; the two differ by up to 200 ppm,
    # which is what Cramer states as the uncertainty of his fit (300 ppm, from memory)
    expected = PropsSI("A", "T", celsius + 273.15, "P", 101325.0, "Air")
    found = air(celsius + 273.15, humidity=0.0, co2=0.0).speed_of_sound
    assert found == pytest.approx(expected, rel=3e-4)


@pytest.mark.parametrize("celsius", [-20.0, 0.0, 20.0, 40.0])
def test_viscosity_equals_coolprop(celsius: float) -> None:
    # reference library: dry air; Sutherland's two constants follow it within half a percent
    expected = PropsSI("V", "T", celsius + 273.15, "P", 101325.0, "Air")
    assert air(celsius + 273.15).viscosity == pytest.approx(expected, rel=5e-3)


def test_thermal_constants_are_those_of_air() -> None:
    # reference library: CoolProp at 20 °C and 101 325 Pa has γ = 1.402 and Pr = 0.708
    state = ("T", 293.15, "P", 101325.0, "Air")
    assert standard_air().gamma == pytest.approx(PropsSI("C", *state) / PropsSI("O", *state), rel=2e-3)
    assert standard_air().prandtl == pytest.approx(PropsSI("Prandtl", *state), rel=5e-3)


@pytest.mark.parametrize("case", load("altitude.toml"), ids=lambda case: case.name)
def test_pressure_at_altitude(case: Case) -> None:
    case.check(pressure=pressure_at_altitude(case.inputs["altitude"]))


@pytest.mark.parametrize("altitude", [-500.0, 1500.0, 4000.0])
def test_pressure_solves_the_hydrostatic_equation(altitude: float) -> None:
    # reference library: dp/dz = −ρ·g(z), with gravity falling off by the square of the distance and the
    # temperature of ISO 2533 (linear in geopotential height), integrated by scipy
    radius = 6356766.0

    def slope(z: float, p: list[float]) -> list[float]:
        gravity = 9.80665 * (radius / (radius + z)) ** 2
        temperature = 288.15 - 0.0065 * radius * z / (radius + z)
        return [-p[0] / (287.05287 * temperature) * gravity]

    solved = solve_ivp(slope, (0.0, altitude), [101325.0], rtol=1e-10, atol=1e-6)
    assert pressure_at_altitude(altitude) == pytest.approx(solved.y[0, -1], rel=1e-8)


def test_altitude_stands_in_for_the_pressure() -> None:
    assert air(altitude=1200.0) == air(pressure=pressure_at_altitude(1200.0))
    with pytest.raises(InputError, match="pressure and altitude must not both be given"):
        air(pressure=90e3, altitude=1200.0)


def test_standard_air_is_the_default() -> None:
    assert standard_air() == air()
    assert standard_air() is standard_air()
    assert replace(standard_air(), viscosity=1.82e-5).gamma == 1.4
    assert Air(density=1.2, speed_of_sound=343.0).bulk_modulus == pytest.approx(1.2 * 343.0**2)


@pytest.mark.parametrize(
    "arguments",
    [
        {"temperature": 20.0},
        {"temperature": math.nan},
        {"pressure": 1013.25},
        {"pressure": math.inf},
        {"humidity": 50.0},
        {"humidity": -0.1},
        {"altitude": 20e3},
        {"co2": 400.0},
    ],
)
def test_what_cannot_be_air_is_an_input_error(arguments: dict[str, float]) -> None:
    (name,) = arguments
    with pytest.raises(InputError, match=f"{name} must be from"):
        air(**arguments)
    with pytest.raises(InputError, match=f"{name} must be from"):
        air_warnings(**arguments)


def test_warnings_outside_the_verified_range() -> None:
    assert air_warnings() == ()
    assert air_warnings(273.15) == ()
    (cold,) = air_warnings(263.15)
    assert "-10.0 °C" in cold
    (high,) = air_warnings(altitude=3000.0)
    assert "70.1 kPa" in high
    assert any("6 % of water" in text for text in air_warnings(318.15, humidity=1.0))


@given(
    temperature=st.floats(233.15, 333.15),
    pressure=st.floats(20e3, 120e3),
    humidity=st.floats(0.0, 1.0),
    co2=st.floats(0.0, 0.01),
)
def test_any_air_in_range_is_sound(temperature: float, pressure: float, humidity: float, co2: float) -> None:
    found = air(temperature, pressure, humidity, co2=co2)
    # an ideal gas of molar mass between dry air and saturated air at the limits stays this close
    ideal = pressure * 0.0289655 / (8.314463 * temperature)
    assert 0.6 * ideal < found.density < 1.01 * ideal
    assert 280.0 < found.speed_of_sound < 430.0
    assert 1.4e-5 < found.viscosity < 2.2e-5
