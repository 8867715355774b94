"""Vent room against paths worked by hand and against sampled tubes."""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from boxwright.brief import FACES, Space
from boxwright.design import BoxPlan
from boxwright.errors import InputError
from boxwright.parts import VentStock
from boxwright.workshop.items import Item
from boxwright.workshop.prism import prism_of
from boxwright.workshop.ventroom import inscribed_box, vent_room, vent_room_in

PLAN = BoxPlan(width=0.62, height=0.19, depth=0.40, wall=0.018)  # inside 584 × 154 × 364 mm
TUBE = VentStock(shape="round", diameter=0.07, wall=0.0025, bend_price=3.0)
PROFILE = ((0.0, 0.0), (0.4, 0.0), (0.4, 0.15), (0.2, 0.15), (0.2, 0.3), (0.0, 0.3))


def test_straight_by_hand() -> None:
    """Along the width: 584 inside + 18 of the panel − 70 of air behind the end."""
    assert vent_room_in(PLAN, TUBE).straight == pytest.approx(0.584 + 0.018 - 0.070)
    front = vent_room_in(PLAN, TUBE, vent_faces=("front",))
    assert front.straight == pytest.approx(0.364 + 0.018 - 0.070)
    tight = vent_room_in(PLAN, TUBE, vent_faces=("front",), end=0.5)
    assert tight.straight == pytest.approx(0.364 + 0.018 - 0.035)


def test_one_bend_by_hand() -> None:
    """Only width × depth leave room for a bend: 75 mm tube in a flat 100 mm inside, one way in from the front.

    First leg 18 + 364 − 37.5 along the depth to the corner, second 584 − 37.5 − 70 along the width; the rounded corner
    saves (2 − π/2)·70. The two-bend way (U): 18 + 364 − 37.5, across 584 − 75, back 364 − 37.5 − 70.
    """
    flat = BoxPlan(width=0.62, height=0.136, depth=0.40, wall=0.018)
    found = vent_room_in(flat, TUBE, vent_faces=("front",))
    saved = (2 - math.pi / 2) * 0.07
    one = (0.018 + 0.364 - 0.0375) + (0.584 - 0.0375 - 0.07) - saved
    two = (0.018 + 0.364 - 0.0375) + (0.584 - 0.075) + (0.364 - 0.0375 - 0.07) - 2 * saved
    assert found.folded == pytest.approx(max(one, two))
    assert two > one
    stiff = VentStock(shape="round", diameter=0.07, wall=0.0025)
    assert vent_room_in(flat, stiff, vent_faces=("front",)).folded == 0.0


def test_slot_by_hand() -> None:
    """A 100 × 30 mm slot from the front: 18 + 364 − 15 to the middle of its turn, 584 − 15 − 30 along the back wall."""
    slot = VentStock(shape="slot", width=0.3, height=0.03, wall=0.012)
    found = vent_room_in(PLAN, slot, vent_faces=("front",))
    # 300 mm wide it does not go upright (154 mm), so its turn is the vertical one: 154 − 15 − 30.
    assert found.slot == pytest.approx(0.018 + 0.364 - 0.015 + 0.154 - 0.015 - 0.03)
    narrow = VentStock(shape="slot", width=0.1, height=0.03, wall=0.012)
    found = vent_room_in(PLAN, narrow, vent_faces=("front",))
    assert found.slot == pytest.approx(0.018 + 0.364 - 0.015 + 0.584 - 0.015 - 0.03)
    assert found.straight == found.folded == 0.0


def test_no_way_for_a_tube_wider_than_the_box() -> None:
    wide = VentStock(shape="round", diameter=0.16, wall=0.003, bend_price=3.0)
    assert vent_room_in(PLAN, wide, vent_faces=("front", "left")).longest == 0.0
    assert vent_room_in(PLAN, TUBE, vent_faces=()).longest == 0.0


def test_a_motor_is_kept_clear() -> None:
    """A driver on the top: a 75 mm tube cannot pass under a motor that leaves 54 mm, only beside it."""
    driver = Item(kind="driver", frame_diameter=0.21, cutout_diameter=0.18, behind_diameter=0.1, depth=0.098,
                  clearance=0.02, faces=("top",))  # fmt: skip
    free = vent_room_in(PLAN, TUBE, vent_faces=("front",))
    beside = vent_room_in(PLAN, TUBE, vent_faces=("front",), driver=driver)
    assert beside.straight == pytest.approx(free.straight)  # the strip (584 − 180)/2 = 202 wide takes it
    along = vent_room_in(PLAN, TUBE, vent_faces=("left",), driver=driver)
    # Along the width: beside it in depth, (364 − 180)/2 = 92 mm, is room for 75 mm.
    assert along.straight == pytest.approx(0.584 + 0.018 - 0.07)
    fat = VentStock(shape="round", diameter=0.095, wall=0.0025, bend_price=3.0)
    blocked = vent_room_in(PLAN, fat, vent_faces=("left",), driver=driver)
    assert blocked.straight == pytest.approx((0.584 - 0.18) / 2 + 0.018 - 0.095)


@settings(max_examples=80, deadline=None)
@given(st.tuples(*[st.floats(0.1, 0.8)] * 3), st.floats(0.02, 0.15), st.floats(0.0, 0.3), st.integers(0, 63))
def test_more_room_never_shortens_a_vent(sizes, bore, motor, sides) -> None:
    def room(scale: float, depth: float):
        w, h, d = (scale * s for s in sizes)
        return np.array(
            vent_room(w, h, d, 0.018, 63, bore, bore + 0.006, 0.1, 0.03, 0.012, 1.0, sides, 0.0, depth)
        )

    small = room(1.0, 0.0)
    assert (room(1.2, 0.0) >= small - 1e-12).all()
    assert (room(1.0, motor) <= small + 1e-12).all()
    # No path in a box is longer than three of its longest edges and the panel.
    assert small.max() <= 3 * max(sizes) + 0.018


@pytest.mark.parametrize(
    "plan",
    [
        BoxPlan(shape="wedge", width=0.5, height=0.4, depth=0.35, depth_top=0.2),
        BoxPlan(shape="profile", width=0.5, profile=PROFILE),
    ],
)
def test_inscribed_block_lies_inside(plan: BoxPlan) -> None:
    prism = prism_of(plan)
    height, depth, mask = inscribed_box(prism)
    inner = Polygon(prism.polygon).buffer(1e-9)
    z0, y0, z1, y1 = inner.bounds
    fits = any(
        inner.buffer(1e-3).contains(box(z, y, z + depth, y + height))
        for z in np.arange(z0, z1 - depth + 1e-3, 1e-3)
        for y in np.arange(y0, y1 - height + 1e-3, 1e-3)
    )
    assert fits
    # No rectangle along the axes on a 10 mm grid of corners inside is much larger.
    zs, ys = np.arange(z0, z1, 0.01), np.arange(y0, y1, 0.01)
    larger = [
        (a, c, b, d)
        for (a, b), (c, d) in product(combinations(zs, 2), combinations(ys, 2))
        if (b - a) * (d - c) > 1.03 * height * depth
    ]
    assert not any(inner.contains(box(*corners)) for corners in larger)
    assert mask & 13 == 13


def test_straight_vent_off_a_slope() -> None:
    """In the wedge, a thin tube off the front may run as deep as the deepest spot it fits: by the slope's own line."""
    plan = BoxPlan(shape="wedge", width=0.5, height=0.4, depth=0.5, depth_top=0.2, wall=0.02)
    thin = VentStock(shape="round", diameter=0.04, wall=0.0)
    # The tube's upper edge at height 0.02 + 0.04 meets the inner slope z = 0.5 − 0.75·y − 1.25·0.02.
    expected = (0.5 - 0.75 * 0.06 - 0.025) - 0.02 + 0.02 - 0.04
    assert vent_room_in(plan, thin, vent_faces=("front",)).straight == pytest.approx(expected, abs=1e-9)


def test_bad_vents() -> None:
    with pytest.raises(InputError, match="end must be"):
        vent_room_in(PLAN, TUBE, end=0.4)
    with pytest.raises(InputError, match="diameter"):
        vent_room_in(PLAN, VentStock(shape="round"))
    with pytest.raises(InputError):
        vent_room_in(Space(shape="volume", net_volume=0.02), TUBE, wall=0.018)
    assert set(FACES) >= {"front"}
