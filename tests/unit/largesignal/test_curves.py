"""Curves over travel: exact where they are polynomials, monotone where they are tables, usable however far one goes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from boxwright.errors import InputError
from boxwright.largesignal.curvetable import even_part, tabulate
from boxwright.parts import Curve

TABLE = (
    (-0.014, 0.72),
    (-0.01, 0.85),
    (-0.004, 0.985),
    (0.0, 1.0),
    (0.003, 0.99),
    (0.009, 0.88),
    (0.013, 0.7),
)


def test_a_cubic_is_exact() -> None:
    terms = (1.0, -12.0, 900.0, 2.0e4)
    curve = tabulate(Curve(polynomial=terms), "kms", reach=0.03, hardens=True)
    for x in np.linspace(-0.03, 0.03, 97):
        value, slope = curve(float(x))
        assert value == pytest.approx(np.polyval(terms[::-1], x), rel=1e-12)
        assert slope == pytest.approx(np.polyval(np.polyder(np.array(terms[::-1])), x), rel=1e-9, abs=1e-9)


def test_a_table_is_scipys_monotone_cubic() -> None:
    curve = tabulate(Curve(table=TABLE), "bl", reach=0.02, hardens=False)
    wanted = PchipInterpolator(*np.array(TABLE).T)
    x = np.linspace(-0.014, 0.013, 401)
    ours = np.array([curve(float(at))[0] for at in x])
    np.testing.assert_allclose(ours, wanted(x), atol=2e-5)


def test_slope_is_the_values_slope() -> None:
    curve = tabulate(Curve(table=TABLE), "le", reach=0.02, hardens=False)
    for x in np.linspace(-0.0303, 0.0303, 61):  # not on the edge, where it bends
        rise = (curve(float(x) + 1e-7)[0] - curve(float(x) - 1e-7)[0]) / 2e-7
        assert curve(float(x))[1] == pytest.approx(rise, abs=2e-3)


def test_one_side_is_mirrored() -> None:
    half = ((0.0, 1.0), (0.005, 0.95), (0.01, 0.8))
    curve = tabulate(Curve(table=half), "bl", reach=0.02, hardens=False)
    other = tabulate(Curve(table=tuple((-x, y) for x, y in half[::-1])), "bl", reach=0.02, hardens=False)
    for x in (0.001, 0.004, 0.0075, 0.012):
        assert curve(-x)[0] == pytest.approx(curve(x)[0], rel=1e-12)
        assert other(x)[0] == pytest.approx(curve(x)[0], rel=1e-12)


def test_even_part() -> None:
    assert even_part(Curve(polynomial=(1.0, 5.0, -100.0, 7.0))).polynomial == (1.0, 0.0, -100.0, 0.0)
    mean = tabulate(even_part(Curve(table=TABLE)), "bl", reach=0.02, hardens=False)
    one = PchipInterpolator(*np.array(TABLE).T)
    for x in (0.002, 0.0061, 0.012):
        assert mean(x)[0] == pytest.approx(0.5 * (one(x) + one(-x)), abs=3e-5)
        assert mean(-x)[0] == pytest.approx(mean(x)[0], rel=1e-9)


def test_scaled_to_one_at_rest() -> None:
    curve = tabulate(Curve(polynomial=(2.0, 10.0)), "kms", reach=0.02, hardens=True)
    assert curve(0.0)[0] == pytest.approx(1.0, rel=1e-12)
    assert curve(0.01)[0] == pytest.approx(1.05, rel=1e-12)


@given(
    st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=6),
    st.floats(-1.0, 1.0),
    st.booleans(),
)
def test_always_finite_and_positive(terms: list[float], x: float, hardens: bool) -> None:
    """Whatever the polynomial does, at whatever travel; and a stiffness pushes back harder the farther out it goes."""
    curve = tabulate(
        Curve(polynomial=(1.0, *(a / 0.01**k for k, a in enumerate(terms, start=1)))),
        "k",
        reach=0.03,
        hardens=hardens,
    )
    value, slope = curve(x)
    assert np.isfinite(value)
    assert np.isfinite(slope)
    assert value > 0.0
    if hardens and abs(x) > 0.03:
        assert slope * x >= 0.0


@pytest.mark.parametrize(
    ("curve", "says"),
    [
        (Curve(), "a polynomial or a table"),
        (Curve(table=((0.0, 1.0), (0.01, 0.9))), "at least 3 points, got 2"),
        (Curve(table=((0.0, 1.0), (0.0, 0.9), (0.01, 0.8))), "rise strictly"),
        (Curve(table=((0.001, 1.0), (0.002, 0.9), (0.01, 0.8))), "reach the rest position"),
        (Curve(table=((0.0, 1.0), (0.002, -0.9), (0.01, 0.8))), "> 0, got -0.9"),
        (Curve(table=((0.0, 1.0), (0.002, float("nan")), (0.01, 0.8))), "finite"),
        (Curve(polynomial=(0.0, 1.0)), "> 0 at rest"),
        (Curve(polynomial=(1.0, float("inf"))), "finite"),
    ],
)
def test_refusals(curve: Curve, says: str) -> None:
    with pytest.raises(InputError, match=says):
        tabulate(curve, "bl of the driver", reach=0.02, hardens=False)
