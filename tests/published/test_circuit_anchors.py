"""The un-reduced circuit itself against closed forms, before it is used to judge anything else."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.support.cases import Case, load
from tests.support.circuit import Solution, chamber_tuning, solve
from tests.support.normalised import passband_level
from tests.support.worked import passive_box

CASES = load("passive_worked.toml")


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve([passive_box()], [np.array([case.inputs["frequency"] for case in CASES])])[0]


@pytest.mark.parametrize(("number", "case"), list(enumerate(CASES)), ids=[c.name for c in CASES])
def test_passive_box(number: int, case: Case, solution: Solution) -> None:
    design = passive_box()
    # travel of one peak volt from travel of one volt rms
    per_volt = 1e3 / math.sqrt(2.0)
    driver = solution.driver_travel[number]
    passive = solution.opening_travel(0)[number]
    case.check(
        gain_db=solution.level(design)[number] - passband_level(design),
        ratio=passive * 0.0330 / (driver * 0.0214),
        driver_mm=driver * per_volt,
        passive_mm=passive * per_volt,
        impedance=abs(solution.impedance[number]),
    )


def test_tuning_that_losses_refer_to() -> None:
    # fB of the same worked system, from sqrt((1/cmp + sp²/cab)/mmp)
    assert chamber_tuning(passive_box(), "rear") == pytest.approx(47.483678, abs=5e-7)
