"""Motion in time: order of convergence, closed forms of free motion, rest under gravity, the balance of energy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ellipk
from tests.support.level import Drive, drives, plain

from boxwright.air import Air
from boxwright.design import Arrangement, Chamber, Design, Filter, PassiveOpening, VentOpening
from boxwright.errors import CannotSolve, InputError
from boxwright.largesignal import equations as eq
from boxwright.largesignal.model import model_of
from boxwright.largesignal.transient import follow_voltage, pressure_at
from boxwright.parts import Coil, Curve, Curves, Driver, Passive

DRIVES = drives(seed=41, each=2) | drives(seed=42, each=1, families=("coupled",))
AIR = Air(density=1.2, speed_of_sound=343.0)
DRIVER = Driver(
    re=3.6, bl=9.0, mms=0.05, cms=0.5e-3, rms=1.8, sd=0.022, coil=Coil(le=1e-3), xmax=0.012,
    curves=Curves(kms=Curve(polynomial=(1.0, 15.0, 2500.0)), bl=Curve(polynomial=(1.0, -8.0, -1500.0))),
)  # fmt: skip
PASSIVE = Passive(
    mmp=0.12, cmp=0.6e-3, rmp=1.5, sp=0.033, curves=Curves(kmp=Curve(polynomial=(1.0, 0.0, 2000.0)))
)


def sine(drive: Drive, periods: int, points: int) -> tuple[np.ndarray, float]:
    rate = points * drive.frequency
    time = np.arange(periods * points + 1) / rate
    return math.sqrt(2.0) * drive.voltage * np.sin(2.0 * math.pi * drive.frequency * time), rate


@pytest.mark.parametrize("name", ["passive 0", "closed 0"])
def test_order_of_convergence(name: str) -> None:
    """Fourth order, the voltage between samples included."""
    drive = DRIVES[name]
    drive = replace(
        drive, design=replace(drive.design, driver=replace(drive.design.driver, coil=Coil(le=2e-3)))
    )
    model = model_of(drive.design)
    ends = []
    for points in (150, 300, 600, 4800):
        volts, rate = sine(drive, 2, points)
        ends.append(follow_voltage(model, volts, rate, substeps=1).travel[-1])
    errors = np.abs(np.array(ends[:-1]) - ends[-1])
    orders = np.log2(errors[:-1] / errors[1:])
    assert np.all(np.abs(orders - 4.0) < 0.2), orders


def test_free_motion_on_a_cubic_spring() -> None:
    """Period of a mass on x + α·x³: the complete elliptic integral, T = 4·K(m)/√(ω0²(1 + α·A²))."""
    alpha, amplitude, mass, stiffness = 3000.0, 0.02, 0.05, 2000.0
    free = Driver(
        re=1e9, bl=1e-9, mms=mass, cms=1.0 / stiffness, rms=0.0, sd=0.02,
        curves=Curves(kms=Curve(polynomial=(1.0, 0.0, alpha)), bl=Curve(polynomial=(1.0,))),
    )  # fmt: skip
    model = model_of(Design(air=AIR, driver=free))
    start = model.rest.copy()
    start[model.travel_at[0]] = amplitude
    told = follow_voltage(model, np.zeros(20000), 10000.0, start=start)
    down = np.flatnonzero((told.travel[:-1] > 0.0) & (told.travel[1:] <= 0.0))
    crossings = told.time[down] + 1e-4 * told.travel[down] / (told.travel[down] - told.travel[down + 1])
    bent = alpha * amplitude**2
    period = 4.0 * ellipk(bent / (2.0 * (1.0 + bent))) / math.sqrt(stiffness / mass * (1.0 + bent))
    assert np.diff(crossings).mean() == pytest.approx(period, rel=1e-6)
    assert bent > 1.0  # far from the linear period
    energy = 0.5 * mass * told.velocity**2 + stiffness * (
        0.5 * told.travel**2 + 0.25 * alpha * told.travel**4
    )
    np.testing.assert_allclose(energy, energy[0], rtol=1e-6)


@pytest.mark.parametrize("facing", ["up", "down"])
def test_rest_under_gravity(facing: str) -> None:
    """K·x·(1 + b·x²) = m·g by the cubic's root; nothing moves afterwards, in a tight box too."""
    opening = PassiveOpening(passive=PASSIVE, count=2, added_mass=0.1, facing=facing)  # type: ignore[arg-type]
    design = Design(
        air=AIR,
        driver=DRIVER,
        arrangement=Arrangement(facing=facing),
        rear=Chamber(volume=0.03),
        openings=(opening,),  # type: ignore[arg-type]
    )
    model = model_of(design)
    told = follow_voltage(model, np.zeros(200), 2000.0)
    sign = 1.0 if facing == "down" else -1.0
    load = sign * (PASSIVE.mmp + 0.1) * 9.80665 * PASSIVE.cmp
    (sag,) = (r.real for r in np.roots([2000.0, 0.0, 1.0, -load]) if abs(r.imag) < 1e-12)
    assert told.openings[0][0] == pytest.approx(sag, rel=1e-9)
    assert abs(sag) < abs(load)
    load = sign * DRIVER.mms * 9.80665 * DRIVER.cms
    cone = min((r.real for r in np.roots([2500.0, 15.0, 1.0, -load]) if abs(r.imag) < 1e-12), key=abs)
    assert told.travel[0] == pytest.approx(cone, rel=1e-9)
    assert np.ptp(told.travel) < 1e-9
    assert np.max(np.abs(told.pressures["rear"])) < 1e-6


def test_adiabatic_spring() -> None:
    """p = P0·((V/(V + ΔV))^γ − 1), γ = ρc²/P0, the cone out or in by a known volume; linear: −ρc²·ΔV/V."""
    design = Design(air=AIR, driver=DRIVER, rear=Chamber(volume=0.002))
    gamma = AIR.bulk_modulus / AIR.pressure
    for x in (-0.03, -0.001, 0.001, 0.03):
        change = DRIVER.sd * x
        for air, wanted in (
            ("adiabatic", AIR.pressure * ((0.002 / (0.002 + change)) ** gamma - 1.0)),
            ("linear", -AIR.bulk_modulus * change / 0.002),
        ):
            model = model_of(design, air=air)  # type: ignore[arg-type]
            y, out = model.rest.copy(), np.zeros(model.width)
            y[model.travel_at[0]] = x
            eq.derivative(y, 0.0, model.rows, model.inflow, model.cubics, out)
            assert out[len(model.states) + 1] == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize(("name", "drive"), DRIVES.items(), ids=list(DRIVES))
def test_energy_balance_over_a_period(name: str, drive: Drive) -> None:
    """What the amplifier gives in a steady period is what resistances, suspensions, leaks, filling and vents take."""
    model, numbers, points = model_of(drive.design), plain(drive.design), 500
    volts, rate = sine(drive, 400, points)
    told = follow_voltage(model, volts, rate)
    last = slice(-points - 1, -1)

    def mean(x: np.ndarray) -> float:
        return float(np.mean(x[last]))

    given = mean(told.voltage * told.current)
    taken = numbers.resistance * mean(told.current**2)
    # in the order of the states: a current where there is an inductance, then one a cell
    first = 1 if numbers.le > 0.0 else 0
    shape = numbers.shape(told.travel)
    for k, (r, _) in enumerate(numbers.cells):
        taken += mean(shape * r * (told.current - told.states[:, first + k]) ** 2)
    for m, part in enumerate(numbers.parts):
        v = told.states[:, model.speed_at[m]]
        taken += part.damping * mean(v**2) + part.loss * mean(np.abs(v) ** 3)
    for k, room in enumerate(numbers.rooms):
        p = list(told.pressures.values())[k]
        taken += room.leak * mean(p**2)
        into = sum(
            part.area * told.states[:, model.speed_at[m]] * ((part.ends == k) - (part.begins == k))
            for m, part in enumerate(numbers.parts)
        )
        taken += room.absorption * mean((into - room.leak * p) ** 2)
    assert taken == pytest.approx(given, rel=1e-4)
    assert given > 1.05 * numbers.resistance * mean(told.current**2) or name.startswith("closed")


def test_filters_stand_in_front() -> None:
    """A high-pass takes travel away far below its corner as its own attenuation says."""
    model = model_of(Design(air=AIR, driver=DRIVER, rear=Chamber(volume=0.03, q_leak=7.0)))
    rate, f = 8000.0, 10.0
    volts = 0.01 * np.sin(2.0 * math.pi * f * np.arange(16000) / rate)
    free = follow_voltage(model, volts, rate)
    held = follow_voltage(model, volts, rate, filters=(Filter(kind="high-pass", order=4, frequency=40.0),))
    ratio = np.ptp(held.travel[-1600:]) / np.ptp(free.travel[-1600:])
    assert ratio == pytest.approx(1.0 / math.sqrt(1.0 + 4.0**8), rel=0.01)  # Butterworth


def test_pressure_of_a_burst() -> None:
    """ρ/(2π·r)·dU/dt on half space, by differences."""
    rate = 20000.0
    time = np.arange(8000) / rate
    flow = 1e-3 * np.exp(-(((time - 0.2) / 0.03) ** 2)) * np.sin(2.0 * math.pi * 40.0 * time)
    design = Design(air=AIR, driver=DRIVER)
    found = pressure_at(design, flow, rate)
    by_hand = AIR.density / (2.0 * math.pi) * np.gradient(flow, 1.0 / rate)
    np.testing.assert_allclose(found, by_hand, atol=1e-4 * np.max(by_hand))


def test_a_vent_chokes() -> None:
    """With the quadratic loss the vent's speed grows less than the voltage; without it would grow as much."""
    vent = VentOpening(diameter=0.05, length=0.15)
    design = Design(
        air=AIR,
        driver=replace(DRIVER, curves=Curves(), xmax=None),
        rear=Chamber(volume=0.03),
        openings=(vent,),
    )
    model = model_of(design)
    rate = 8000.0
    shape = np.sin(2.0 * math.pi * 36.0 * np.arange(8000) / rate)
    quiet, loud = (np.ptp(follow_voltage(model, u * shape, rate).openings[0][-2000:]) for u in (0.01, 20.0))
    assert loud < 0.7 * 2000.0 * quiet
    flared = model_of(replace(design, openings=(replace(vent, flare=0.0125),)))
    assert np.ptp(follow_voltage(flared, 20.0 * shape, rate).openings[0][-2000:]) > loud


def test_refusals() -> None:
    model = model_of(Design(air=AIR, driver=DRIVER, rear=Chamber(volume=0.03)))
    with pytest.raises(InputError, match="finite"):
        follow_voltage(model, np.array([0.0, math.nan]), 1000.0)
    with pytest.raises(InputError, match="sample rate"):
        follow_voltage(model, np.zeros(4), 0.0)
    with pytest.raises(InputError, match="states"):
        follow_voltage(model, np.zeros(4), 1000.0, start=np.zeros(1))
    with pytest.raises(CannotSolve, match="bounds"):
        follow_voltage(model, np.ones(4000), 200.0, substeps=1)
