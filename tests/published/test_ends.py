"""End corrections against the papers, quadrature and the field around the end."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad
from scipy.special import ive, kve
from tests.support.cases import Case, load
from tests.support.field import added_length

from boxwright.acoustics import ends, flares
from boxwright.design import VentOpening
from boxwright.errors import InputError

size = st.floats(0.005, 0.5)


@pytest.mark.parametrize("case", load("ends_round.toml"), ids=lambda c: c.name)
def test_round_ends(case: Case) -> None:
    case.check(correction=ends.end_correction_round(case.inputs["radius"], case.inputs["flanged"]))


@pytest.mark.parametrize("case", load("ends_vents.toml"), ids=lambda c: c.name)
def test_whole_vents(case: Case) -> None:
    made = VentOpening(**{**case.inputs, "ends": tuple(case.inputs["ends"])})
    case.check(length=ends.vent_effective_length(made))


def test_free_end_is_the_integral_of_its_paper() -> None:
    def integrand(u: float) -> float:
        x = math.exp(u)
        return -math.log(2.0 * ive(1, x) * kve(1, x)) / x

    value = quad(integrand, -16.0, 16.0, limit=400)[0] / math.pi
    assert value == pytest.approx(ends.FREE, abs=5e-5)


@pytest.mark.parametrize(("a", "b"), [(1.0, 1.0), (0.3, 0.05), (0.02, 0.4), (2.0, 0.01)])
def test_rectangular_piston_is_its_quadrature(a: float, b: float) -> None:
    # in polar form the integrand 4(a − u)(b − v)/R is smooth
    def inner(radius: float, angle: float) -> float:
        return 4.0 * (a - radius * math.cos(angle)) * (b - radius * math.sin(angle))

    corner = math.atan2(b, a)
    near = dblquad(inner, 0.0, corner, 0.0, lambda t: a / math.cos(t), epsabs=1e-12)[0]
    far = dblquad(inner, corner, math.pi / 2.0, 0.0, lambda t: b / math.sin(t), epsabs=1e-12)[0]
    assert ends.piston_length_rectangle(a, b) == pytest.approx(
        (near + far) / (2.0 * math.pi * a * b), rel=1e-7
    )


def test_square_piston_is_near_the_round_one_and_below_it() -> None:
    # Of all outlines of one area the circle has the greatest mean of 1/R.
    square = ends.piston_length_rectangle(1.0, 1.0)
    circle = ends.PISTON / math.sqrt(math.pi)
    assert 0.98 * circle < square < circle


@given(width=size, height=size, factor=st.floats(0.01, 100.0))
def test_slot_scales_and_is_symmetric(width: float, height: float, factor: float) -> None:
    once = ends.end_correction_slot(width, height, True, 0)
    assert ends.end_correction_slot(height, width, True, 0) == pytest.approx(once, rel=1e-12)
    scaled = ends.end_correction_slot(factor * width, factor * height, True, 0)
    assert scaled == pytest.approx(factor * once, rel=1e-9)


@given(width=size, height=size)
def test_walls_lengthen(width: float, height: float) -> None:
    lengths = [ends.end_correction_slot(width, height, True, walls) for walls in (0, 1, 2, 3)]
    assert lengths == sorted(lengths)
    assert lengths[1] == ends.end_correction_slot(width, 2.0 * height, True, 0)
    assert lengths[2] == pytest.approx(2.0 * lengths[0], rel=1e-12)


def test_round_slot_ratio_is_that_of_the_circle() -> None:
    assert ends.end_correction_slot(1.0, 1.0, True, 0) / ends.end_correction_slot(
        1.0, 1.0, False, 0
    ) == pytest.approx(0.821674 / 0.612701, rel=1e-4)


def test_full_width_slot_tends_to_its_thin_limit() -> None:
    # Σ sin²(nθ)/n³ → θ²·(3/2 − ln 2θ) for small θ (Clausen).
    share = 1e-3
    theta = math.pi * share
    expected = 2.0 * theta**2 * (1.5 - math.log(2.0 * theta)) / (math.pi**3 * share)
    found = ends.end_correction_full_width(share, 1.0) * 0.848826 / 0.821674
    assert found == pytest.approx(expected, rel=1e-4)
    assert ends.end_correction_full_width(1.0, 1.0) == pytest.approx(0.0, abs=2e-3)


def test_full_width_slot_is_its_series() -> None:
    n = np.arange(1, 200_000)
    total = 2.0 * 0.16 * np.sum(np.sin(n * np.pi * 0.03 / 0.4) ** 2 / n**3) / (np.pi**3 * 0.03)
    assert ends.end_correction_full_width(0.03, 0.4) == pytest.approx(total * 0.821674 / 0.848826, rel=1e-5)


@given(radius=st.floats(0.01, 0.1), ratio=st.floats(0.01, 5.0))
def test_round_flare_has_a_closed_form(radius: float, ratio: float) -> None:
    flare = ratio * radius
    a, b = radius + flare, flare
    root = math.sqrt(a * a - b * b)
    arc = math.atan(math.sqrt((a + b) / (a - b)))
    # ∫ cos/(A − B·cos)² = d/dB ∫ 1/(A − B·cos), 0 to π/2
    darc = a / (2.0 * a * root)
    closed = flare * radius**2 * 2.0 * (b / root**3 * arc + darc / root)
    found = flares.flare_length(2.0 * radius, 2.0 * radius, 2, 2, flare)
    assert found == pytest.approx(closed, rel=1e-6)


@pytest.mark.parametrize("sides", [(2, 2), (1, 1), (0, 1), (2, 1)])
def test_slot_flare_is_its_quadrature(sides: tuple[int, int]) -> None:
    def share(x: float) -> float:
        back = 0.04 - math.sqrt(0.04**2 - x * x)
        return 0.2 * 0.03 / ((0.2 + sides[0] * back) * (0.03 + sides[1] * back))

    assert flares.flare_length(0.2, 0.03, *sides, 0.04) == pytest.approx(quad(share, 0.0, 0.04)[0], rel=1e-7)


@pytest.mark.parametrize("shape", ["round", "slot"])
def test_flares_shorten_and_vanish(shape: str) -> None:
    def length(flare: float) -> float:
        return ends.vent_effective_length(
            VentOpening(shape=shape, diameter=0.1, width=0.25, height=0.04, length=0.4, walls=1, flare=flare)
        )

    plain = length(0.0)
    assert length(1e-9) == pytest.approx(plain, rel=1e-6)
    lengths = [length(r) for r in (0.0, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2)]
    assert lengths == sorted(lengths, reverse=True)
    assert min(lengths) > 0.0


@pytest.mark.parametrize("case", load("ends_flared.toml"), ids=lambda c: c.name)
def test_flared_end_against_the_field(case: Case) -> None:
    flare = case.inputs["flare"]
    length = ends.effective_length_round(2.0 * flare, 1.0, True, True, flare)
    case.check(added=0.5 * (length - 2.0 * flare))


@pytest.mark.parametrize("flare", [0.0, 0.5, 1.5])
def test_flared_end_against_the_field_solved_here(flare: float) -> None:
    added = 0.5 * (ends.effective_length_round(2.0 * flare, 1.0, True, True, flare) - 2.0 * flare)
    assert added == pytest.approx(added_length(flare, cells=12), abs=0.03)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"diameter": 0.0}, "diameter"),
        ({"diameter": math.nan}, "diameter"),
        ({"shape": "slot", "width": 0.2}, "height"),
        ({"length": -0.1}, "length"),
        ({"flare": 0.2}, "flare"),
        ({"walls": 4}, "walls"),
    ],
)
def test_impossible_vents_are_refused(change: dict[str, object], word: str) -> None:
    with pytest.raises(InputError, match=word):
        ends.vent_effective_length(VentOpening(**{"diameter": 0.1, "length": 0.2, **change}))


def test_areas() -> None:
    tube = VentOpening(diameter=0.1, length=0.2, flare=0.02)
    assert ends.vent_area(tube) == pytest.approx(math.pi * 0.05**2)
    assert ends.vent_perimeter(tube) == pytest.approx(math.pi * 0.1)
    slot = VentOpening(shape="slot", width=0.3, height=0.02, length=0.2)
    assert ends.vent_area(slot) == pytest.approx(0.006)
    assert ends.vent_perimeter(slot) == pytest.approx(0.64)
