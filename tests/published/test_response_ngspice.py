"""The linear model against a circuit simulator that solves the whole loudspeaker, nothing reduced.

Every driver, coil, passive and vent is an element of its own there; see tests/support/circuit.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.support.circuit import Solution, solve
from tests.support.random_designs import FAMILIES, designs

from boxwright.acoustics.response import predict
from boxwright.design import Design, PassiveOpening

EACH = 8
FREQUENCY = np.geomspace(8.0, 220.0, 14)
DESIGNS = designs(seed=20, each=EACH)


@pytest.fixture(scope="module")
def solutions() -> dict[str, Solution]:
    answers = solve(list(DESIGNS.values()), [FREQUENCY] * len(DESIGNS))
    return dict(zip(DESIGNS, answers, strict=True))


def test_every_family_is_there() -> None:
    assert len(DESIGNS) >= 40
    assert {name.split()[0] for name in DESIGNS} == set(FAMILIES)


@pytest.mark.parametrize(("name", "design"), DESIGNS.items(), ids=list(DESIGNS))
def test_response(name: str, design: Design, solutions: dict[str, Solution]) -> None:
    response = predict(design, frequency=FREQUENCY)
    circuit = solutions[name]
    np.testing.assert_allclose(response.level, circuit.level(design), rtol=0.0, atol=0.01)
    np.testing.assert_allclose(response.impedance, circuit.impedance, rtol=1e-3)
    np.testing.assert_allclose(response.driver_travel, circuit.driver_travel, rtol=1e-3)
    for number, (opening, said) in enumerate(zip(design.openings, response.openings, strict=True)):
        if isinstance(opening, PassiveOpening):
            np.testing.assert_allclose(said.travel, circuit.opening_travel(number), rtol=1e-3)
        else:
            speed = math.sqrt(2.0) * circuit.opening_speed[number]
            np.testing.assert_allclose(said.air_speed, speed, rtol=1e-3)
