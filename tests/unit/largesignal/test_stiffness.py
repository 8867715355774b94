"""The home stiffness test: it finds the suspension that made the readings, and refuses what cannot carry a fit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from boxwright.errors import BoxwrightError, CannotSolve, InputError
from boxwright.largesignal.stiffness import Reading, StiffnessTest, stiffness_test

G = 9.80665
COMPLIANCE = 0.55e-3
CURVE = (1.0, 12.0, 2600.0)
"""Ratio over travel: harder outward, half as hard again at 12 mm."""
CONE = 0.095


def position(force: float) -> float:
    """Where the suspension answers with a force, by bracketing. [m]."""
    return float(
        brentq(lambda x: x * np.polyval(CURVE[::-1], x) / COMPLIANCE - force, -0.05, 0.05, xtol=1e-15)
    )


def reading(mass: float, facing: str, noise: float = 0.0) -> Reading:
    sign = -1.0 if facing == "up" else 1.0
    own = 0.0 if facing == "sideways" else CONE * G
    travel = sign * (position(sign * (mass * G + own)) - position(sign * own))
    return Reading(mass=mass, travel=travel + noise, facing=facing)  # type: ignore[arg-type]


MASSES = (0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.0, 3.0)


def both_ways(noise: float = 0.0, seed: int = 1) -> StiffnessTest:
    rng = np.random.default_rng(seed)
    table = [
        reading(m, facing, noise * rng.standard_normal())
        for facing in ("down", "up")
        for m in (*MASSES, *MASSES[::-2])
    ]
    return stiffness_test(table, moving_mass=CONE)


def test_exact_readings_give_back_the_suspension() -> None:
    found = both_ways()
    assert found.compliance == pytest.approx(COMPLIANCE, rel=1e-6)
    np.testing.assert_allclose(found.curve.polynomial, CURVE, rtol=1e-4)
    assert np.max(np.abs(found.residuals)) < 1e-8
    assert found.remarks == ()


def test_travel_at_which_it_has_stiffened() -> None:
    inward, outward = both_ways().stiffened(0.15)
    for x in (inward, outward):
        assert x is not None
        assert np.polyval(CURVE[::-1], x) == pytest.approx(1.15, abs=2e-3)
    assert inward < 0.0 < outward  # type: ignore[operator]
    assert both_ways().stiffened(5.0) == (None, None)


def test_uncertainty_covers_the_truth() -> None:
    """A caliper read to a tenth of a millimetre: the truth lies within two deviations about as often as it should."""
    tests = [both_ways(noise=0.05e-3, seed=seed) for seed in range(20)]
    off = np.array([(t.compliance - COMPLIANCE) / t.compliance_sd for t in tests])
    assert np.sum(np.abs(off) < 2.0) >= 16
    assert np.std(off) > 0.3  # and the deviation is not simply huge
    assert all(t.compliance_sd < 0.05 * COMPLIANCE for t in tests)


def test_own_weight_matters() -> None:
    """Left out, the compliance comes out as that of the sagged place."""
    table = [reading(m, "down") for m in MASSES]
    right = stiffness_test(table, moving_mass=CONE).compliance
    assert abs(right - COMPLIANCE) < abs(stiffness_test(table).compliance - COMPLIANCE)


def test_one_side_is_said() -> None:
    found = stiffness_test([reading(m, "sideways") for m in (*MASSES, 0.4)])
    assert any("one side" in remark for remark in found.remarks)
    assert found.lowest == -found.highest


def test_a_linear_spring_stays_linear() -> None:
    table = [Reading(mass=m, travel=m * G * COMPLIANCE, facing="down") for m in (*MASSES, 0.4)]
    found = stiffness_test(table)
    assert found.curve.polynomial == (1.0,)
    assert found.compliance == pytest.approx(COMPLIANCE, rel=1e-9)


def changed(number: int, travel: float) -> list[Reading]:
    table = [reading(m, "down") for m in (*MASSES, 0.4)]
    table[number] = Reading(mass=table[number].mass, travel=travel)
    return table


SAID = [
    ([reading(m, "down") for m in MASSES[:4]], InputError, "at least 5 different loads, got 4"),
    ([reading(0.4, "down")] * 9, InputError, "got 1"),
    (changed(5, 0.002), InputError, "must grow with the load"),
    (changed(8, reading(0.4, "down").travel + 0.6e-3), InputError, "creeping"),
    (changed(2, -0.001), InputError, "travel of a reading must be > 0"),
    (changed(2, float("nan")), InputError, "travel of a reading must be > 0"),
    (
        [
            Reading(mass=m, travel=x)
            for m, x in zip(MASSES, (1e-4, 3e-3, 3.1e-3, 3.2e-3, 9e-3, 9.1e-3, 12e-3, 15e-3), strict=True)
        ],
        CannotSolve,
        "no smooth curve|uncertain",
    ),
]


@pytest.mark.parametrize(("table", "error", "words"), SAID, ids=[words for _, _, words in SAID])
def test_refusals(table: list[Reading], error: type[BoxwrightError], words: str) -> None:
    with pytest.raises(error, match=words):
        stiffness_test(table, moving_mass=CONE)


def test_readings_with_small_travel_missing_are_uncertain() -> None:
    """Only large loads, read badly: the compliance at rest does not follow."""
    rng = np.random.default_rng(4)
    table = [reading(m, "down", 0.3e-3 * rng.standard_normal()) for m in (3.0, 3.4, 3.8, 4.2, 4.6, 5.0)]
    table.sort(key=lambda r: r.travel)
    table = [
        Reading(mass=m, travel=r.travel) for m, r in zip((3.0, 3.4, 3.8, 4.2, 4.6, 5.0), table, strict=True)
    ]
    with pytest.raises(CannotSolve, match="uncertain by"):
        stiffness_test(table, moving_mass=CONE)
