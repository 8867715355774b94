"""Steady motion: the two solvers agree, small level is the linear model, two motions are found where there are two."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.level import Drive, drives

from boxwright.acoustics.loads import chamber_resonance, named_chambers
from boxwright.acoustics.motion import solve
from boxwright.acoustics.placement import transfer
from boxwright.air import Air
from boxwright.compound import equivalent_driver
from boxwright.design import Chamber, Design, PassiveOpening, VentOpening
from boxwright.errors import InputError
from boxwright.largesignal.model import Model, model_of
from boxwright.largesignal.steady import level_map, steady
from boxwright.largesignal.transient import follow_voltage
from boxwright.largesignal.waves import Steady, Wave
from boxwright.parts import Coil, Curve, Curves, Driver

DRIVES = drives(seed=5, each=5) | drives(seed=6, each=2, families=("coupled",))
POINTS = 256


def in_time(model: Model, drive: Drive, settled: Steady) -> dict[str, np.ndarray]:
    """Orders 0 to 7 of the last period, followed in time from rest until what came before has died away."""
    periods = max(math.ceil(math.log(1e-6) / math.log(min(settled.multiplier, 0.999))), 3)
    time = np.arange((periods + 1) * POINTS) / (POINTS * drive.frequency)
    volts = math.sqrt(2.0) * drive.voltage * np.cos(2.0 * math.pi * drive.frequency * time)
    told = follow_voltage(model, volts, POINTS * drive.frequency)
    waves = {"travel": told.travel, "current": told.current, "outside": told.outside}
    waves |= {f"opening {m}": wave for m, wave in enumerate(told.openings)}
    return {name: np.fft.rfft(wave[-POINTS:])[:8] * 2.0 / POINTS for name, wave in waves.items()}


def phasors(wave: Wave) -> np.ndarray:
    return np.asarray(np.abs(wave.harmonics) * np.exp(1j * wave.phase))


@pytest.mark.parametrize(("name", "drive"), DRIVES.items(), ids=list(DRIVES))
def test_both_solvers_agree(name: str, drive: Drive) -> None:
    """Every harmonic to a thousandth of the fundamental (in fact to a ten-thousandth), with its phase."""
    model = model_of(drive.design, air="adiabatic")
    ours = steady(model, drive.frequency, drive.voltage)
    assert ours.status == "converged"
    assert ours.correction < 1e-6
    assert ours.multiplier < 1.0
    theirs = in_time(model, drive, ours)
    pairs = {"travel": ours.driver_travel, "current": ours.current}
    pairs |= {f"opening {m}": wave for m, wave in enumerate(ours.openings)}
    for what, wave in pairs.items():
        there = theirs[what].copy()
        there[0] *= 0.5
        off = np.abs(phasors(wave) - there) / np.abs(there[1])
        assert np.max(off) < 1e-4, (what, off)
    k = np.arange(1, 8)
    through = transfer(drive.design.placement, drive.design.air, k * drive.frequency)
    pressure = theirs["outside"][1:] * through
    off = np.abs(phasors(ours.pressure)[1:] - pressure) / np.abs(pressure[0])
    assert np.max(off) < 1e-3, off


def test_the_designs_are_driven_hard() -> None:
    """Agreement on harmonics means little where there are none."""
    strong = [
        steady(model_of(d.design), d.frequency, d.voltage).driver_travel.distortion for d in DRIVES.values()
    ]
    assert np.median(strong) > 0.005
    assert np.max(strong) > 0.03


def level(drive: Drive) -> Design:
    """The same with everything facing sideways: sag stretches springs at any level."""
    openings = tuple(
        replace(o, facing="sideways") if isinstance(o, PassiveOpening) else o for o in drive.design.openings
    )
    return replace(
        drive.design, openings=openings, arrangement=replace(drive.design.arrangement, facing="sideways")
    )


def tunings(design: Design) -> set[float]:
    """Of the chambers that have vents. [Hz]."""
    driver = equivalent_driver(design.driver, design.arrangement)
    vents = [o for o in design.openings if isinstance(o, VentOpening)]
    return {
        chamber_resonance(design, c, driver)
        for c in named_chambers(design)
        for v in vents
        if v.chamber == c.name
    }


LINEAR = {name: level(drive) for name, drive in DRIVES.items() if len(tunings(level(drive))) < 2}


def test_enough_to_compare() -> None:
    assert len(LINEAR) >= 15
    assert {name.split()[0] for name in LINEAR} >= {"closed", "vented", "passive", "bandpass"}


@pytest.mark.parametrize(("name", "design"), LINEAR.items(), ids=list(LINEAR))
def test_small_level_is_the_linear_model(name: str, design: Design) -> None:
    """Cone, current, chambers and what is heard, with their phases. A vent is a duct there and a mass with some air
    here: compared at the tuning, where the one stands for the other, except that here its air is damped by the
    chamber's absorption."""
    driver = equivalent_driver(design.driver, design.arrangement)
    frequency = next(iter(tunings(design)), DRIVES[name].frequency)
    close = 1e-4
    if tunings(design):  # a duct's far end loses a little differently; and see above
        close = 1e-3 if any(c.q_absorption for c in named_chambers(design)) else 3e-4
    moved = solve(design, driver, np.array([frequency]))
    voltage = 1e-6
    found = steady(model_of(design), frequency, voltage)
    peak = math.sqrt(2.0) * voltage
    omega = 2.0 * math.pi * frequency
    wanted = {
        "travel": (phasors(found.driver_travel)[1], peak * moved.velocity[0] / (1j * omega)),
        "current": (phasors(found.current)[1], peak * moved.current[0]),
    }
    for k, pressure in enumerate(moved.pressures.values()):
        wanted[f"chamber {k}"] = (phasors(found.chambers[k])[1], peak * pressure[0])
    through = transfer(design.placement, design.air, np.array([frequency]))[0]
    wanted["pressure"] = (phasors(found.pressure)[1], peak * moved.outside[0] * through)
    for what, (ours, theirs) in wanted.items():
        assert abs(ours / theirs - 1.0) < close, what


# A cone without box, coil and air: mass, weak damping, a stiffness that grows with the square of travel.
MASS, STIFFNESS, ALPHA, DAMPING = 0.05, 2000.0, 2500.0, 0.4
RE, BL = 1000.0, 1.0  # so much resistance that the current is the voltage's: a force of BL/RE a volt
DUFFING = Design(
    air=Air(density=1.2, speed_of_sound=343.0),
    driver=Driver(
        re=RE, bl=BL, mms=MASS, cms=1.0 / STIFFNESS, rms=DAMPING - BL**2 / RE, sd=0.02, coil=Coil(),
        curves=Curves(bl=Curve(polynomial=(1.0,)), kms=Curve(polynomial=(1.0, 0.0, ALPHA))),
    ),
)  # fmt: skip


def amplitudes(omega: float, force: float) -> list[float]:
    """Of the fundamental, from the balance of one harmonic: the roots of a cubic in the squared amplitude."""
    detuned, bent = STIFFNESS - MASS * omega**2, 0.75 * STIFFNESS * ALPHA
    roots = np.roots([bent**2, 2.0 * detuned * bent, detuned**2 + (DAMPING * omega) ** 2, -(force**2)])
    return sorted(math.sqrt(r.real) for r in roots if abs(r.imag) < 1e-9 * abs(r) and r.real > 0.0)


def test_two_motions_are_found() -> None:
    """A hardening spring above its resonance: a small and a large motion, and one between them that does not last."""
    omega, force = 1.25 * math.sqrt(STIFFNESS / MASS), 1.8
    small, between, large = amplitudes(omega, force)
    assert large > 3.0 * small > 0.0
    assert between < large
    voltage = force * RE / BL / math.sqrt(2.0)
    found = steady(model_of(DUFFING), omega / (2.0 * math.pi), voltage)
    assert found.other is not None
    # one harmonic is an approximation: the third is a few percent of the first
    assert found.driver_travel.harmonics[1] == pytest.approx(small, rel=0.01)
    assert found.other.driver_travel.harmonics[1] == pytest.approx(large, rel=0.03)
    assert found.multiplier < 1.0
    assert found.other.multiplier < 1.0
    assert any("two steady motions" in remark for remark in found.remarks)


def test_a_jump_is_reported() -> None:
    """Beyond the fold only the large motion is left, and the branch from rest has ended on the way."""
    omega = 1.1 * math.sqrt(STIFFNESS / MASS)
    force = 1.2 * max(f for f in np.geomspace(0.1, 50.0, 200) if len(amplitudes(omega, f)) == 3)
    only = amplitudes(omega, force)
    assert len(only) == 1
    found = steady(model_of(DUFFING), omega / (2.0 * math.pi), force * RE / BL / math.sqrt(2.0))
    assert found.driver_travel.harmonics[1] == pytest.approx(only[0], rel=0.03)
    assert any("jumped" in remark for remark in found.remarks)
    assert found.other is None


def test_one_motion_where_there_is_one() -> None:
    omega, force = 0.8 * math.sqrt(STIFFNESS / MASS), 1.8
    (only,) = amplitudes(omega, force)
    found = steady(model_of(DUFFING), omega / (2.0 * math.pi), force * RE / BL / math.sqrt(2.0))
    assert found.driver_travel.harmonics[1] == pytest.approx(only, rel=0.02)
    assert found.other is None


def test_order_of_convergence() -> None:
    """Fourth order: halving the steps leaves a sixteenth of the error."""
    drive = DRIVES["closed 1"]
    model = model_of(drive.design)
    exact = phasors(steady(model, drive.frequency, drive.voltage, steps=1024).driver_travel)
    errors = [
        float(
            np.max(
                np.abs(phasors(steady(model, drive.frequency, drive.voltage, steps=n).driver_travel) - exact)
            )
        )
        for n in (32, 64, 128)
    ]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all(np.abs(orders - 4.0) < 0.4), orders


def test_map_is_what_steady_says() -> None:
    drive = DRIVES["passive 1"]
    model = model_of(drive.design)
    frequency, voltage = (
        drive.frequency * np.array([0.7, 1.0, 1.6]),
        drive.voltage * np.array([0.1, 0.3, 0.6, 1.0]),
    )
    found = level_map(model, frequency, voltage, steps=128)
    assert found.driver.harmonics.shape == (3, 4, 8)
    for k, f in enumerate(frequency):
        one = steady(model, float(f), float(voltage[-1]))
        np.testing.assert_allclose(
            found.driver.harmonics[k, -1], one.driver_travel.harmonics, rtol=0.0,
            atol=1e-6 * one.driver_travel.harmonics[1],
        )  # fmt: skip
        assert found.driver.highest[k, -1] == pytest.approx(one.driver_travel.highest, rel=1e-6)


@pytest.mark.parametrize(
    ("frequency", "voltage", "says"),
    [
        ([0.0], [1.0], "frequency must be > 0"),
        ([float("nan")], [1.0], "frequency must be > 0"),
        ([30.0], [0.0], "voltages must be > 0"),
        ([30.0], [2.0, 1.0], "rise"),
    ],
)
def test_refusals(frequency: list[float], voltage: list[float], says: str) -> None:
    with pytest.raises(InputError, match=says):
        level_map(model_of(DUFFING), np.array(frequency), np.array(voltage))


def test_a_closed_box_hardens_with_adiabatic_air() -> None:
    """A stiff, exact air spring makes even harmonics and an offset that the straight one does not have."""
    design = replace(
        DUFFING, rear=Chamber(volume=0.004), driver=replace(DUFFING.driver, re=4.0, bl=8.0, curves=Curves())
    )
    straight = steady(model_of(design), 40.0, 20.0).driver_travel.harmonics
    exact = steady(model_of(design, air="adiabatic"), 40.0, 20.0).driver_travel.harmonics
    assert straight[2] < 1e-9 * straight[1]
    assert exact[2] > 1e-3 * exact[1]
    assert exact[0] > 0.0  # the cone is pressed outward on average
