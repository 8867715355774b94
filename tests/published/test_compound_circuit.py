"""The reduction of several drivers and coils to one, against the circuit in which each is written out.

Simulator: ngspice. Every driver and every voice coil stands as elements of its own; only the box is shared. The
reduced driver goes into the textbook loop of a closed box (small1972closed), written out here.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest
from tests.support.circuit import solve

from boxwright.air import Air
from boxwright.compound import equivalent_driver
from boxwright.design import Arrangement, Chamber, Design, Source
from boxwright.parts import Coil, Driver

AIR = Air(density=1.20, speed_of_sound=343.0)
FREQUENCY = np.array([8.0, 20.0, 41.0, 63.0, 120.0, 400.0])
DRIVER = Driver(re=3.6, bl=7.0, mms=0.05, cms=0.6e-3, rms=1.8, sd=0.0215)
COILS = {
    "resistive": Coil(),
    "ideal": Coil(le=0.8e-3),
    "lossy": Coil(le=0.1e-3, k=0.02, n=0.65),
    "two inductances": Coil(le=0.4e-3, l2=0.9e-3, r2=4.0),
}
SPLITS = [(1, 1), (2, 1), (1, 2), (2, 2), (3, 2), (1, 4)]


def closed_loop(driver: Driver, volume: float, voltage: float) -> tuple[np.ndarray, np.ndarray]:
    """Impedance [Ω] and cone velocity [m/s] of one driver in a tight closed box."""
    s = 2j * np.pi * FREQUENCY
    mechanical = s * driver.mms + driver.rms + 1.0 / (s * driver.cms)
    mechanical = mechanical + driver.sd**2 * AIR.bulk_modulus / (s * volume)
    coil = driver.coil
    electrical = driver.re + s * coil.le
    if coil.k:
        electrical = electrical + coil.k * s**coil.n
    if coil.l2 and coil.r2:
        electrical = electrical + 1.0 / (1.0 / coil.r2 + 1.0 / (s * coil.l2))
    impedance = electrical + driver.bl**2 / mechanical
    return impedance, driver.bl * voltage / impedance / mechanical


def compare(designs: list[Design]) -> None:
    solved = solve(designs, [FREQUENCY] * len(designs))
    for design, circuit in zip(designs, solved, strict=True):
        assert design.rear is not None
        one = equivalent_driver(design.driver, design.arrangement)
        impedance, velocity = closed_loop(one, design.rear.volume, design.source.voltage)
        np.testing.assert_allclose(circuit.impedance, impedance, rtol=1e-6, err_msg=str(design.arrangement))
        np.testing.assert_allclose(
            circuit.cone_velocity, velocity, rtol=1e-6, err_msg=str(design.arrangement)
        )
        # what leaves the box is the area of the one times its velocity
        np.testing.assert_allclose(
            circuit.flow, one.sd * velocity, rtol=1e-6, err_msg=str(design.arrangement)
        )


def design(driver: Driver, arrangement: Arrangement) -> Design:
    return Design(
        air=AIR,
        source=Source(voltage=2.0),
        driver=driver,
        arrangement=arrangement,
        rear=Chamber(name="rear", volume=0.020 * arrangement.count),
    )


@pytest.mark.parametrize("coil", COILS)
def test_drivers_in_every_wiring(coil: str) -> None:
    driver = replace(DRIVER, coil=COILS[coil])
    compare([design(driver, Arrangement(series=s, parallel=p)) for s, p in SPLITS])


@pytest.mark.parametrize("mounting", ["push-push", "face-to-face"])
def test_drivers_in_pairs(mounting: Any) -> None:
    driver = replace(DRIVER, coil=COILS["two inductances"])
    compare(
        [
            design(driver, Arrangement(series=s, parallel=p, mounting=mounting))
            for s, p in SPLITS
            if s * p % 2 == 0
        ]
    )


@pytest.mark.parametrize("coils", [1, 2, 3])
@pytest.mark.parametrize("coil", ["ideal", "lossy", "two inductances"])
def test_voice_coils_in_every_wiring(coil: str, coils: int) -> None:
    ways: tuple[Any, ...] = ("series", "parallel", "single")
    compare(
        [
            design(
                replace(DRIVER, coil=COILS[coil], coils=coils, coils_as=stated),
                Arrangement(series=2, parallel=1, coil_wiring=wanted),
            )
            for stated, wanted in product(ways, ways)
        ]
    )


def test_the_reduction_is_seen_to_matter() -> None:
    # the same circuit against a rule that forgets one factor of two is off by far more than the tolerance
    arrangement = Arrangement(series=2, parallel=2)
    (circuit,) = solve([design(DRIVER, arrangement)], [FREQUENCY])
    wrong = replace(equivalent_driver(DRIVER, arrangement), bl=DRIVER.bl * math.sqrt(2.0))
    impedance, _ = closed_loop(wrong, 0.080, 2.0)
    assert np.max(np.abs(circuit.impedance / impedance - 1.0)) > 0.05
