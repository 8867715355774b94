"""The relations of a data sheet against worked figures, and against mpmath in fifty digits."""

from __future__ import annotations

import math

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.cases import Case, load

from boxwright.air import Air
from boxwright.parts import Driver
from boxwright.parts.completing import complete_driver, complete_passive

AIR = Air(density=1.20, speed_of_sound=343.0)


@pytest.mark.parametrize("case", load("driver_relations.toml"), ids=lambda case: case.name)
def test_values_of_a_driver(case: Case) -> None:
    implied = complete_driver(case.inputs, air=AIR).implied
    case.check(**{name: implied[name] for name in case.expected})


@pytest.mark.parametrize("case", load("driver_relations.toml"), ids=lambda case: case.name)
def test_a_driver_from_its_published_values(case: Case) -> None:
    # the way back: from the figures as printed, so to their number of digits
    printed = {name: float(text) for name, text in case.expected.items() if name not in {"qts", "eta0"}}
    driver = complete_driver(printed | {"re": case.inputs["re"], "sd": case.inputs["sd"]}, air=AIR).driver
    for name in ("bl", "mms", "cms", "rms"):
        assert getattr(driver, name) == pytest.approx(case.inputs[name], rel=2e-5)


@pytest.mark.parametrize("case", load("passive_relations.toml"), ids=lambda case: case.name)
def test_values_of_a_passive(case: Case) -> None:
    implied = complete_passive(case.inputs, air=AIR).implied
    case.check(**{name: implied[name] for name in case.expected})


def test_reference_efficiency_has_two_forms() -> None:
    # small1972direct: η0 = (4π²/c³)·fs³·vas/qes, which is ρ·bl²·sd²/(2π·c·re·mms²) in the physical parameters
    driver = Driver(re=5.6, bl=8.5, mms=0.032, cms=0.75e-3, rms=1.6, sd=0.0215)
    physical = (
        AIR.density * driver.bl**2 * driver.sd**2
        / (2.0 * math.pi * AIR.speed_of_sound * driver.re * driver.mms**2)
    )  # fmt: skip
    assert driver.eta0(AIR) == pytest.approx(physical, rel=1e-13)


decades = st.floats(-2.0, 1.0).map(lambda exponent: 10.0**exponent)


@given(fs=decades, qms=decades, qes=decades, vas=decades, re=decades, sd=decades)
def test_the_usual_sheet_against_mpmath(
    fs: float, qms: float, qes: float, vas: float, re: float, sd: float
) -> None:
    # reference library: mpmath evaluates the inverse relations in fifty digits
    scale = {"fs": 10.0 * fs, "qms": 10.0 * qms, "qes": qes, "vas": 0.1 * vas, "re": re, "sd": 0.1 * sd}
    driver = complete_driver(scale, air=AIR).driver
    with mpmath.workdps(50):
        exact = {name: mpmath.mpf(value) for name, value in scale.items()}
        omega = 2 * mpmath.pi * exact["fs"]
        cms = exact["vas"] / (
            mpmath.mpf(AIR.density) * mpmath.mpf(AIR.speed_of_sound) ** 2 * exact["sd"] ** 2
        )
        mms = 1 / (omega**2 * cms)
        expected = {
            "cms": cms,
            "mms": mms,
            "rms": omega * mms / exact["qms"],
            "bl": mpmath.sqrt(omega * mms * exact["re"] / exact["qes"]),
        }
    for name, value in expected.items():
        assert getattr(driver, name) == pytest.approx(float(value), rel=1e-12)
