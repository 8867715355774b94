"""The thermal network against its closed forms, and a whole warming against an independent integration."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from tests.support.boxes import driver, passive_box
from tests.support.cases import load

from boxwright.acoustics.response import predict
from boxwright.compound import equivalent_driver
from boxwright.design import Arrangement, Chamber, Design, Source
from boxwright.errors import InputError
from boxwright.largesignal.heat import COPPER, heat_up, music, sine
from boxwright.largesignal.thermal import ThermalNetwork, equilibrium_rise, network_for
from boxwright.parts import Driver

CASES = {case.name: case for case in load("heat.toml")}
NETWORK = ThermalNetwork(rtv=4.0, ctv=12.0, rtm=3.0, ctm=800.0)


def heavy(re: float = 4.0) -> Design:
    """A cone so heavy that only the coil's resistance is left of the impedance."""
    part = Driver(re=re, bl=0.1, mms=1e4, cms=1e-3, rms=1.0, sd=0.02)
    return Design(driver=part, rear=Chamber(volume=0.02), source=Source(voltage=20.0))


def test_step() -> None:
    case = CASES["two stages, 20 W"]
    names = ("rtv", "ctv", "rtm", "ctm")
    network = ThermalNetwork(**{name: case.inputs[name] for name in names})
    times = np.array([10.0, 100.0, 600.0, 7200.0, 1e9])
    coil, motor = network.rise(case.inputs["power"], times)
    fast, slow = network.time_constants
    case.check(
        fast=fast, slow=slow, at_10=coil[0], at_100=coil[1], at_600=coil[2], at_7200=coil[3], coil=coil[4],
        motor=motor[4],
    )  # fmt: skip


def test_voltage_drive() -> None:
    case = CASES["voltage drive, 100 W when cold"]
    cold, resistance = case.inputs["power"], case.inputs["resistance"]
    rise = equilibrium_rise(lambda t: cold / (1.0 + COPPER * t), resistance)
    ratio = 1.0 + COPPER * rise
    case.check(rise=rise, warm_power=cold / ratio, loss=20.0 * math.log10(ratio))


@pytest.mark.parametrize(
    "case", [c for c in CASES.values() if c.name.startswith("copper")], ids=lambda c: c.name
)
def test_a_bare_resistance_loses_what_copper_gains(case) -> None:  # type: ignore[no-untyped-def]
    design = heavy()
    begin = design.air.temperature + case.inputs["rise"]
    warm = heat_up(design, sine(50.0, 1e-3), network=NETWORK, duration=1e-3, start=(begin, begin))
    case.check(ratio=warm.re_ratio[0], compression=warm.level_loss[0])


def test_a_design_settles_at_the_closed_form() -> None:
    case = CASES["voltage drive, 100 W when cold"]
    design = heavy(re=4.0)
    network = replace(NETWORK, rtv=4.0, rtm=3.0)
    found = heat_up(design, sine(50.0, 20.0), network=network, duration=4e4)
    assert found.final_coil - design.air.temperature == pytest.approx(float(case.expected["rise"]), abs=1e-3)
    assert found.coil[-1] == pytest.approx(found.final_coil, abs=0.01)
    assert found.final_power == pytest.approx(float(case.expected["warm_power"]), abs=1e-3)
    assert found.final_level_loss == pytest.approx(float(case.expected["loss"]), abs=1e-3)


def test_coupled_warming_against_another_route() -> None:
    """Every step predicts the whole box anew with a warm coil; nothing is shared but the box."""
    design = replace(passive_box(), arrangement=Arrangement(series=1, parallel=2))
    programme = music(45.0, low=25.0, high=90.0, points=6)
    network = network_for(design.driver)
    whole = network.beside(2)
    cold = equivalent_driver(design.driver, design.arrangement)
    share = np.array(programme.share)
    frequency = np.array(programme.frequency)

    def made(rise: float) -> float:
        part = replace(design.driver, re=design.driver.re * (1.0 + COPPER * rise))
        answer = predict(replace(design, driver=part), frequency=frequency, voltage=1.0)
        gain = 10.0 ** (filter_level(design, frequency) / 20.0)
        current = gain / np.abs(answer.impedance)
        return float(programme.voltage**2 * np.sum(share * current**2) * cold.re * (1.0 + COPPER * rise))

    def slope(_: float, t: np.ndarray) -> list[float]:
        across = (t[0] - t[1]) / whole.rtv
        return [(made(t[0]) - across) / whole.ctv, (across - t[1] / whole.rtm) / whole.ctm]

    other = solve_ivp(slope, (0.0, 120.0), [0.0, 0.0], method="DOP853", rtol=1e-9, atol=1e-9)
    found = heat_up(design, programme, duration=120.0)
    assert found.coil[-1] - design.air.temperature == pytest.approx(other.y[0, -1], rel=1e-6)
    assert found.motor[-1] - design.air.temperature == pytest.approx(other.y[1, -1], rel=1e-6)
    hot = replace(design, driver=replace(design.driver, re=design.driver.re * found.re_ratio[-1]))
    before, after = (predict(d, frequency=frequency) for d in (design, hot))
    np.testing.assert_allclose(found.frequency_loss, before.level - after.level, atol=1e-9)
    assert after.tuning == before.tuning


def filter_level(design: Design, frequency: np.ndarray) -> np.ndarray:
    """Gain of the filters, read off two predictions."""
    plain = replace(design, source=replace(design.source, filters=()))
    return predict(design, frequency=frequency).level - predict(plain, frequency=frequency).level


def test_rated_power_gives_the_stated_rise() -> None:
    network = network_for(driver(), rated_rise=120.0)
    assert network.rise(190.0, 1e9)[0] == pytest.approx(120.0)
    assert any("120 K" in words for words in network.assumed)


def test_voltage_loses_less_power_than_a_constant_one_would_make() -> None:
    found = heat_up(passive_box(), music(60.0), duration=3600.0)
    assert np.all(np.diff(found.power) < 0.0)
    assert np.all(np.diff(found.coil) > 0.0)
    assert found.qts_hot > found.qts_cold


def test_programme_power_is_that_of_its_sines() -> None:
    design = passive_box()
    both = heat_up(design, music(30.0, low=30.0, high=60.0, points=2), duration=1.0)
    each = [
        heat_up(design, sine(f, 30.0 * 10.0 ** (-12.0 / 20.0)), duration=1.0).power[0] for f in both.frequency
    ]
    assert both.power[0] == pytest.approx(sum(each) / 2.0)


def test_refusals() -> None:
    with pytest.raises(InputError, match="pmax"):
        network_for(replace(driver(), pmax=None))
    with pytest.raises(InputError, match="rtv must be > 0"):
        replace(NETWORK, rtv=0.0)
    with pytest.raises(InputError, match="duration"):
        heat_up(passive_box(), sine(40.0, 10.0), duration=0.0)
    with pytest.raises(InputError, match="voltage"):
        sine(40.0, -1.0)
    with pytest.raises(InputError, match="low to a higher"):
        music(10.0, low=50.0, high=20.0)


def test_step_of_the_motor_against_the_matrix_exponential() -> None:
    n = NETWORK
    matrix = np.array([
        [-1.0 / (n.rtv * n.ctv), 1.0 / (n.rtv * n.ctv)],
        [1.0 / (n.rtv * n.ctm), -(1.0 / n.rtv + 1.0 / n.rtm) / n.ctm],
    ])  # fmt: skip
    settled = np.array([20.0 * 7.0, 20.0 * 3.0])
    times = np.array([3.0, 60.0, 900.0])
    coil, motor = n.rise(20.0, times)
    for k, time in enumerate(times):
        wanted = settled - expm(matrix * time) @ settled
        assert (coil[k], motor[k]) == pytest.approx(tuple(wanted), rel=1e-10)
