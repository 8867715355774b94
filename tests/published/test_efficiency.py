"""Reference efficiency, level for a volume displacement, and the humps of a leaky vented box."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.support.cases import Case, load
from tests.support.normalised import AIR, highest

from boxwright.acoustics.response import predict
from boxwright.acoustics.tuning import vent_length_for, vented_tuning
from boxwright.air import Air
from boxwright.design import Chamber, Design, PassiveOpening, Source
from boxwright.parts import Driver, Passive

DRIVER = Driver(re=5.6, bl=8.5, mms=0.032, cms=0.75e-3, rms=1.6, sd=0.0215)
"""Invented; fs 32.487 Hz, qms 4.0825, qes .50628, vas 48.945 L."""


def closed_box(voltage: float) -> Design:
    return Design(
        air=AIR, source=Source(voltage=voltage), driver=DRIVER, rear=Chamber(name="rear", volume=0.020)
    )


def test_reference_efficiency() -> None:
    # small1972direct: η0 = (4π²/c³)·fs³·vas/qes = ρ·bl²·sd²/(2π·c·re·mms²), .32429036 % for this driver
    assert DRIVER.eta0(AIR) == pytest.approx(0.32429036e-2, abs=0.5e-10)


def test_passband_level_follows_from_it() -> None:
    # small1972direct: 1 W is 112.1424 dB at 1 m in half space for 1.20 kg/m³ and 343 m/s; 2.83 V across 5.6
    # Ω 88.8055 dB
    high = np.array([50e3])
    assert predict(closed_box(2.83), frequency=high).level[0] == pytest.approx(88.8055, abs=1e-4)
    assert predict(closed_box(math.sqrt(5.6)), frequency=high).level[0] == pytest.approx(87.2517, abs=1e-4)


@pytest.mark.parametrize("case", load("efficiency.toml"), ids=lambda c: c.name)
def test_level_for_a_volume_displacement(case: Case) -> None:
    response = predict(closed_box(1.0), frequency=np.array([case.inputs["frequency"]]))
    moved = response.driver_travel[0] * DRIVER.sd
    case.check(level=response.level[0] + 20.0 * math.log10(case.inputs["volume"] / moved))


@pytest.mark.parametrize("case", load("vented_impedance.toml"), ids=lambda c: c.name)
def test_humps_of_a_leaky_vented_box(case: Case) -> None:
    volume, tuning, sp = 0.030, 38.0, 0.01
    stiffness = sp**2 * AIR.bulk_modulus / volume
    vent = Passive(mmp=stiffness / (2.0 * math.pi * tuning) ** 2, cmp=1e13 / stiffness, rmp=0.0, sp=sp)
    design = Design(
        air=AIR,
        source=Source(voltage=1.0),
        driver=DRIVER,
        rear=Chamber(name="rear", volume=volume, q_leak=case.inputs["ql"]),
        openings=(PassiveOpening(passive=vent),),
    )

    def magnitude(frequency: np.ndarray) -> np.ndarray:
        return np.abs(predict(design, frequency=frequency).impedance)

    case.check(
        low=highest(magnitude, 10.0, 30.0)[0],
        dip=highest(lambda f: -magnitude(f), 30.0, 45.0)[0],
        high=highest(magnitude, 45.0, 100.0)[0],
    )


@pytest.mark.parametrize("case", load("helmholtz.toml"), ids=lambda c: c.name)
def test_helmholtz_resonance(case: Case) -> None:
    air = Air(density=1.20, speed_of_sound=343.2)
    area = math.pi * case.inputs["diameter"] ** 2 / 4.0
    case.check(tuning=vented_tuning(area, case.inputs["effective_length"], case.inputs["volume"], 1, air))


def test_vent_length_for_a_wanted_tuning() -> None:
    # closed form of the same resonance: 100 mm, 60 L, 30 Hz at 343.2 m/s need 0.433941 m, of which the ends
    # are 1.4350 radii
    air = Air(density=1.20, speed_of_sound=343.2)
    length = vent_length_for(math.pi * 0.1**2 / 4.0, 0.0, 0.060, 1, air, 30.0)
    assert length == pytest.approx(0.433941, abs=5e-7)
    with_ends = vent_length_for(math.pi * 0.1**2 / 4.0, 1.4350 * 0.05, 0.060, 1, air, 30.0)
    assert with_ends == pytest.approx(0.362191, abs=5e-7)
