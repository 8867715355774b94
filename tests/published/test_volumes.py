"""Volumes against hand integrals, shapely and a Monte Carlo integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely import Polygon, contains_xy
from tests.support.cases import Case, load

from boxwright.design import BoxPlan, VentOpening
from boxwright.errors import DoesNotFit
from boxwright.parts import Body, Driver
from boxwright.workshop.displacement import SHOULDER, driver_displacement, vent_displacement
from boxwright.workshop.shape import inner_profile, inside_volume, outer_profile, outer_volume

LENGTHS = st.floats(0.1, 1.5)


def _plan(inputs: dict) -> BoxPlan:
    return BoxPlan(**{k: tuple(map(tuple, v)) if k == "profile" else v for k, v in inputs.items()})


@pytest.mark.parametrize("case", load("volumes.toml"), ids=lambda c: c.name)
def test_volumes_by_hand(case: Case) -> None:
    plan = _plan(case.inputs)
    case.check(inside=inside_volume(plan), outer=outer_volume(plan))


@given(width=LENGTHS, height=LENGTHS, depth=LENGTHS, top=LENGTHS, wall=st.floats(0.003, 0.03))
def test_wedge_against_its_integral_over_height(width, height, depth, top, wall) -> None:
    """Depth between the front and the back wall at each height, integrated numerically."""
    plan = BoxPlan(shape="wedge", width=width, height=height, depth=depth, depth_top=top, wall=wall)
    lean = (top - depth) / height
    shift = wall * math.hypot(1.0, lean)

    def clear(y: float) -> float:
        return max(0.0, depth + lean * y - shift - wall)

    zero = (shift + wall - depth) / lean if lean else -1.0
    kink = [zero] if wall < zero < height - wall else None
    expected = quad(clear, wall, height - wall, points=kink)[0] * (width - 2 * wall)
    assume(expected > 1e-5)
    assert inside_volume(plan) == pytest.approx(expected, rel=1e-7)


def _star(seed: int, corners: int) -> tuple[tuple[float, float], ...]:
    """A star-shaped polygon, convex or not."""
    rng = np.random.default_rng(seed)
    angle = np.sort((np.arange(corners) + rng.uniform(0.1, 0.9, corners)) / corners) * 2 * np.pi
    reach = rng.uniform(0.12, 0.4, corners)
    return tuple(
        (float(r * np.cos(a)) + 0.5, float(r * np.sin(a)) + 0.5) for a, r in zip(angle, reach, strict=True)
    )


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), corners=st.integers(3, 9), wall=st.floats(0.004, 0.02))
def test_profile_area_against_rounded_erosion(seed: int, corners: int, wall: float) -> None:
    """Nothing inside is nearer to a side than the wall; what a mitre takes more than an arc is known in closed form.

    At an inward corner that turns by θ the two differ by wall²·(tan(θ/2) − θ/2).
    """
    plan = BoxPlan(shape="profile", width=0.5, profile=_star(seed, corners), wall=wall)
    try:
        inner = Polygon(inner_profile(outer_profile(plan), wall))
    except DoesNotFit:
        return
    outer = Polygon(outer_profile(plan))
    rounded = outer.buffer(-wall, quad_segs=64)
    points = np.array(outer_profile(plan))
    steps = np.diff(np.concatenate([points, points[:1]]), axis=0)
    angles = np.arctan2(steps[:, 1], steps[:, 0])
    turns = (np.diff(np.concatenate([angles[-1:], angles])) + np.pi) % (2 * np.pi) - np.pi
    inward = -turns[turns < 0.0]
    most = wall**2 * np.sum(np.tan(inward / 2) - inward / 2)
    assert inner.difference(rounded).area < 1e-9
    assert rounded.area - inner.area <= most * 1.02 + 1e-9  # 2 %: the arcs are polylines
    if inward.size == 0:
        assert inner.area == pytest.approx(rounded.area, rel=1e-9)
    assert inside_volume(plan) == pytest.approx(inner.area * (0.5 - 2 * wall), rel=1e-9)
    assert outer_volume(plan) == pytest.approx(outer.area * 0.5, rel=1e-12)


def test_profile_against_monte_carlo() -> None:
    """A million points: the share that is one wall away from every face, within five standard deviations."""
    profile = ((0.0, 0.0), (0.35, 0.0), (0.45, 0.2), (0.3, 0.35), (0.0, 0.35))  # convex: distance decides
    plan = BoxPlan(shape="profile", width=0.5, profile=profile, wall=0.02)
    rng = np.random.default_rng(1)
    n = 1_000_000
    points = rng.random((n, 3)) * [0.5, 0.35, 0.45]
    hit = (points[:, 0] > 0.02) & (points[:, 0] < 0.48)
    corners = np.array(profile)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = b - a
        away = (side[0] * (points[:, 1] - a[1]) - side[1] * (points[:, 2] - a[0])) / np.hypot(*side)
        hit &= away > 0.02
    assert contains_xy(Polygon(profile), 0.1, 0.1)
    share = hit.mean()
    spread = math.sqrt(share * (1 - share) / n)
    assert inside_volume(plan) / (0.5 * 0.35 * 0.45) == pytest.approx(share, abs=5 * spread)


def test_driver_against_the_volume_of_revolution() -> None:
    """Cutout to magnet over the basket, magnet behind it, from the panel's inner face on, by quadrature."""
    cutout, magnet, depth, wall = 0.28, 0.16, 0.15, 0.018
    body = Body(frame_diameter=0.31, cutout_diameter=cutout, depth=depth, magnet_diameter=magnet)
    driver = Driver(re=6, bl=12, mms=0.1, cms=4e-4, rms=2, sd=0.05, body=body)
    shoulder = SHOULDER * depth

    def section(t: float) -> float:
        d = cutout + (magnet - cutout) * t / shoulder if t < shoulder else magnet
        return math.pi / 4 * d * d

    expected = quad(section, wall, depth, points=[shoulder])[0]
    assert driver_displacement(driver, wall) == pytest.approx(expected, rel=1e-9)


def test_common_size_of_a_driver() -> None:
    """Common practice, no source: a 12-inch driver takes about 2 to 5 litres, an 8-inch one 0.5 to 2 litres."""
    for sd, low, high in ((0.0515, 2e-3, 5e-3), (0.0219, 0.5e-3, 2e-3)):
        driver = Driver(re=6, bl=12, mms=0.1, cms=4e-4, rms=2, sd=sd)
        assert low < driver_displacement(driver, 0.018) < high


def test_vents_by_hand() -> None:
    tube = VentOpening(diameter=0.1, length=0.218)
    assert vent_displacement(tube, 0.018, 0.003) == pytest.approx(math.pi / 4 * 0.106**2 * 0.2, rel=1e-12)
    slot = VentOpening(shape="slot", width=0.3, height=0.03, length=0.218, walls=3)
    assert vent_displacement(slot, 0.018, 0.012) == pytest.approx(0.3 * 0.042 * 0.2, rel=1e-12)
