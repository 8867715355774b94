"""Shapes, faces, boxes for a volume, hostile input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from boxwright.brief import Space
from boxwright.design import BoxPlan
from boxwright.errors import BoxwrightError, DoesNotFit, InputError
from boxwright.workshop.layout_geometry import box_prism
from boxwright.workshop.prism import faces, prism_of
from boxwright.workshop.shape import boxes_for, inside_volume, outer_profile, room_missing

ANY = st.floats(allow_nan=True, allow_infinity=True) | st.floats(-1.0, 3.0)
L_SHAPE = ((0.0, 0.0), (0.4, 0.0), (0.4, 0.15), (0.2, 0.15), (0.2, 0.3), (0.0, 0.3))


def test_faces_of_a_box() -> None:
    found = faces(BoxPlan(width=0.5, height=0.3, depth=0.4, wall=0.02))
    assert sorted(f.name for f in found) == ["back", "bottom", "front", "left", "right", "top"]
    areas = {f.side: Polygon(f.usable).area for f in found}
    assert areas["front"] == pytest.approx(0.46 * 0.26)
    assert areas["top"] == pytest.approx(0.46 * 0.36)
    assert areas["left"] == pytest.approx(0.26 * 0.36)
    inward = {f.side: f.inward for f in found}
    assert inward["front"] == pytest.approx((0, 0, 1))
    assert inward["top"] == pytest.approx((0, -1, 0))
    assert inward["right"] == pytest.approx((-1, 0, 0))


def test_a_wedge_slopes_at_its_back_however_flat() -> None:
    plan = BoxPlan(shape="wedge", width=0.5, height=0.2, depth=0.6, depth_top=0.2)
    assert [f.side for f in faces(plan)].count("back") == 1
    back = next(f for f in faces(plan) if f.side == "back")
    assert back.inward[1] < 0
    assert back.inward[2] < 0


def test_profile_faces_are_numbered_and_keep_to_the_outside() -> None:
    found = faces(BoxPlan(shape="profile", width=0.5, profile=L_SHAPE, wall=0.02))
    names = [f.name for f in found]
    assert {"back", "back 2", "top", "top 2", "front", "bottom"} <= set(names)
    step = [f for f in found if f.side == "top" and math.isclose(f.origin[1], 0.13, abs_tol=1e-9)]
    assert len(step) == 1
    # The inner edge runs on for a wall's thickness under the upright, where there is no outside before it.
    spread = max(abs(p[0] - q[0]) for p in step[0].usable for q in step[0].usable)
    assert spread == pytest.approx(0.18)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 1.0), st.floats(0.1, 1.0), st.floats(0.1, 1.0), st.floats(0.003, 0.03))
def test_both_prisms_of_a_box_are_one(width: float, height: float, depth: float, wall: float) -> None:
    prism = prism_of(BoxPlan(width=width, height=height, depth=depth, wall=wall))
    polygon, table = np.zeros((4, 2)), np.zeros((6, 9))
    assert box_prism(height, depth, wall, polygon, table)
    assert np.allclose(prism.polygon, polygon, atol=1e-9)
    assert np.allclose(prism.table, table, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.1, 1.0), st.floats(0.1, 1.0), st.floats(0.1, 1.0), st.floats(0.05, 1.0))
def test_boxes_hold_exactly_the_volume(width: float, height: float, depth: float, share: float) -> None:
    space = Space(width=width, height=height, depth=depth)
    full = inside_volume(BoxPlan(width=width, height=height, depth=depth))
    plans = boxes_for(space, 0.018, share * full)
    assert 1 <= len(plans) <= 3
    for plan in plans:
        assert inside_volume(plan) == pytest.approx(share * full, rel=1e-9)
        assert plan.width <= width
        assert plan.height <= height
        assert plan.depth <= depth


@pytest.mark.parametrize(
    "space",
    [
        Space(shape="wedge", width=0.9, height=0.4, depth=0.35, depth_top=0.2),
        Space(shape="profile", width=0.9, profile=L_SHAPE),
    ],
)
def test_other_shapes_shrink_in_width(space: Space) -> None:
    (plan,) = boxes_for(space, 0.018, 0.02)
    assert inside_volume(plan) == pytest.approx(0.02, rel=1e-9)
    assert plan.width < 0.9


def test_a_volume_that_is_too_large_says_by_how_much() -> None:
    space = Space(width=0.62, height=0.19, depth=0.4)
    missing = room_missing(space, 0.018, 0.035)
    for name, mm in missing.items():
        sizes = {"width": 0.62, "height": 0.19, "depth": 0.4}
        sizes[name] += mm / 1e3
        assert inside_volume(BoxPlan(**sizes)) == pytest.approx(0.035, rel=1e-9)
    with pytest.raises(DoesNotFit, match=rf"{missing['width']:.0f} mm more width"):
        boxes_for(space, 0.018, 0.035)


def test_a_space_without_sizes_gets_golden_edges() -> None:
    (plan,) = boxes_for(Space(shape="volume", net_volume=0.02), 0.018, 0.02)
    edges = sorted(e - 0.036 for e in (plan.width, plan.height, plan.depth))
    assert edges[2] / edges[1] == pytest.approx(1.618034)
    assert edges[1] / edges[0] == pytest.approx(1.618034, rel=1e-5)
    assert inside_volume(plan) == pytest.approx(0.02, rel=1e-9)
    (wide,) = boxes_for(Space(shape="volume"), 0.018, 0.02, least=(0.35, 0.0, 0.0))
    assert wide.width == pytest.approx(0.35)
    assert inside_volume(wide) == pytest.approx(0.02, rel=1e-9)
    with pytest.raises(DoesNotFit, match="the parts need"):
        boxes_for(Space(shape="volume"), 0.018, 0.001, least=(0.35, 0.35, 0.35))


@pytest.mark.parametrize(
    "profile",
    [
        ((0.0, 0.0), (0.4, 0.3), (0.4, 0.0), (0.0, 0.3)),  # crosses itself
        ((0.0, 0.0), (0.4, 0.0)),
        (),
        ((0.0, 0.0), (0.4, 0.0), (0.8, 0.0)),
        ((0.0, 0.0), (0.4, 0.0), (0.4, 1e-6), (0.0, 1e-6)),
        ((0.0, 0.0), (math.nan, 0.0), (0.4, 0.3)),
        ((0.0, 0.0), (math.inf, 0.0), (0.4, 0.3)),
        ((0.0, 0.0), (0.4, 0.0), (0.2, 0.0), (0.2, 0.3)),  # a spike
        tuple((math.cos(a), math.sin(a)) for a in np.linspace(0, 6.2, 200)),
    ],
)
def test_hostile_profiles(profile) -> None:
    with pytest.raises(InputError, match=r"profile (points )?must"):
        outer_profile(BoxPlan(shape="profile", width=0.4, profile=profile))


@settings(max_examples=200, deadline=None)
@given(
    shape=st.sampled_from(["box", "wedge", "profile", "volume"]),
    sizes=st.tuples(ANY, ANY, ANY, ANY, ANY),
    volume=ANY,
    corners=st.lists(st.tuples(ANY, ANY), max_size=7),
)
def test_any_input_gives_a_shape_or_one_of_our_errors(shape, sizes, volume, corners) -> None:
    width, height, depth, top, wall = sizes
    space = Space(shape=shape, width=width, height=height, depth=depth, depth_top=top, profile=tuple(corners))
    try:
        plans = boxes_for(space, wall, volume)
    except BoxwrightError:
        return
    for plan in plans:
        assert inside_volume(plan) == pytest.approx(volume, rel=1e-6)


def test_walls_that_leave_nothing() -> None:
    with pytest.raises(DoesNotFit, match="leave nothing"):
        inside_volume(BoxPlan(width=0.4, height=0.4, depth=0.03))
    with pytest.raises(DoesNotFit, match="leave nothing"):
        inside_volume(BoxPlan(width=0.03, height=0.4, depth=0.4))
    neck = (
        (0.0, 0.0),
        (0.4, 0.0),
        (0.4, 0.3),
        (0.22, 0.3),
        (0.22, 0.03),
        (0.18, 0.03),
        (0.18, 0.3),
        (0.0, 0.3),
    )
    with pytest.raises(DoesNotFit, match="2 rooms"):
        inside_volume(BoxPlan(shape="profile", width=0.4, profile=neck))
