"""Layouts against an independent checker, brute force, known fits, and each other."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.workshop.checker import faults

from boxwright.brief import FACES, Space
from boxwright.design import BoxPlan
from boxwright.errors import InputError
from boxwright.workshop.items import Item
from boxwright.workshop.layout import fits_many, lay_out, least_golden, least_stretch, least_stretches

EDGE = 0.01
L_SHAPE = ((0.0, 0.0), (0.4, 0.0), (0.4, 0.15), (0.2, 0.15), (0.2, 0.3), (0.0, 0.3))
PROFILES = (
    L_SHAPE,
    ((0.0, 0.0), (0.35, 0.0), (0.45, 0.2), (0.3, 0.35), (0.0, 0.35)),
    ((0.0, 0.05), (0.1, 0.0), (0.4, 0.0), (0.4, 0.3), (0.15, 0.3)),
)


def disc(frame: float, depth: float = 0.0, kind="driver", faces=FACES, **more) -> Item:
    return Item(kind=kind, frame_diameter=frame, cutout_diameter=0.9 * frame, shoulder_depth=depth,
                behind_diameter=0.9 * frame, depth=depth, faces=faces, **more)  # fmt: skip


def random_item(rng: np.random.Generator, faces_share: float = 0.7) -> Item:
    faces = tuple(f for f in FACES if rng.random() < faces_share) or FACES
    if rng.random() < 0.12:
        return Item(kind="vent", width=rng.uniform(0.05, 0.3), height=rng.uniform(0.02, 0.06), faces=faces)
    frame = rng.uniform(0.06, 0.24)
    cutout = frame * rng.uniform(0.75, 1.0)
    shoulder = rng.uniform(0.02, 0.1)
    return Item(
        kind=str(rng.choice(["driver", "passive", "vent"])), frame_diameter=frame, cutout_diameter=cutout,
        shoulder_depth=shoulder, behind_diameter=cutout * rng.uniform(0.4, 1.0),
        depth=shoulder + rng.uniform(0.0, 0.1), clearance=0.02, faces=faces,
    )  # fmt: skip


def random_plan(rng: np.random.Generator) -> BoxPlan:
    width, height, depth = rng.uniform(0.2, 0.6, 3)
    shape = rng.choice(["box", "wedge", "profile"])
    if shape == "profile":
        return BoxPlan(shape="profile", width=width, profile=PROFILES[rng.integers(len(PROFILES))])
    top = depth * rng.uniform(0.4, 1.3) if shape == "wedge" else 0.0
    return BoxPlan(shape=str(shape), width=width, height=height, depth=depth, depth_top=top)


def random_case(seed: int) -> tuple[BoxPlan, list[Item]]:
    rng = np.random.default_rng(seed)
    items: list[Item] = []
    for _ in range(rng.integers(1, 4)):
        items += [random_item(rng)] * int(rng.integers(1, 4))
    return random_plan(rng), items[:6]


@pytest.mark.parametrize("block", range(4))
def test_what_fits_is_sound(block: int) -> None:
    """Frames by shapely, bodies by sampled points: nothing overlaps, nothing leaves the box."""
    fitting = 0
    for seed in range(40 * block, 40 * block + 40):
        plan, items = random_case(seed)
        layout = lay_out(plan, items, edge=EDGE)
        assert layout.fits == (layout.reason == "")
        if layout.fits:
            fitting += 1
            assert faults(plan, items, layout, EDGE, seed) == [], (plan, items)
        else:
            assert layout.shortfall > 0
    assert fitting >= 10


def test_the_checker_sees_faults() -> None:
    plan = BoxPlan(width=0.4, height=0.3, depth=0.3)
    items = [disc(0.12, 0.1), disc(0.12, 0.1)]
    layout = lay_out(plan, items, edge=EDGE)
    assert faults(plan, items, layout, EDGE) == []
    a, b = layout.places
    heaped = replace(layout, places=(a, replace(a, item=1)))
    assert any("apart" in f for f in faults(plan, items, heaped, EDGE))
    moved = replace(layout, places=(replace(a, u=a.u + 0.2, point=(a.point[0], a.point[1] + 0.2, 0.0)), b))
    assert any("rim" in f or "wall" in f for f in faults(plan, items, moved, EDGE))
    deep = [replace(i, depth=0.29) for i in items]
    assert faults(plan, deep, layout, EDGE) != []


def _brute(plan: BoxPlan, items: list[Item], rng: np.random.Generator, tries: int) -> bool:
    """Throw the items at a box; bodies as their bounding blocks, so that what it finds is certainly a layout."""
    axis = {"front": 2, "back": 2, "left": 0, "right": 0, "top": 1, "bottom": 1}
    size = np.array([plan.width, plan.height, plan.depth]) - 2 * plan.wall
    for _ in range(tries):
        done: list[tuple[str, np.ndarray, float, list]] = []
        for item in items:
            face = item.faces[rng.integers(len(item.faces))]
            a = axis[face]
            p, q = (i for i in range(3) if i != a)
            m = item.frame_diameter / 2 + EDGE
            if min(size[p], size[q]) < 2 * m:
                break
            c = np.zeros(3)
            for i in (p, q):
                c[i] = rng.choice([m, size[i] - m, rng.uniform(m, size[i] - m)])
            blocks = []
            for radius, reach in (
                (item.cutout_diameter / 2, item.shoulder_depth - plan.wall),
                (item.behind_diameter / 2, item.depth + item.clearance - plan.wall),
            ):
                low, high = c - radius, c + radius
                far = face in ("back", "right", "top")
                low[a], high[a] = (size[a] - reach, size[a]) if far else (0.0, reach)
                if reach > 0:
                    blocks.append((low, high))
            if any((low < -1e-12).any() or (high > size + 1e-12).any() for low, high in blocks):
                break
            if any(
                np.hypot(*(c - c2)[[p, q]]) < m + m2 - EDGE
                if f2 == face
                else any((lo < h2).all() and (l2 < hi).all() for lo, hi in blocks for l2, h2 in blocks2)
                for f2, c2, m2, blocks2 in done
            ):
                break
            done.append((face, c, m, blocks))
        else:
            return True
    return False


def test_brute_force_finds_hardly_more() -> None:
    """In small full boxes a thousand random throws find at most one layout in a hundred that the search missed."""
    rng = np.random.default_rng(7)
    missed, cases = 0, 200
    for _ in range(cases):
        plan = BoxPlan(**dict(zip(("width", "height", "depth"), rng.uniform(0.15, 0.4, 3), strict=True)))
        items: list[Item] = []
        while len(items) < 2:
            item = random_item(rng, 0.5)
            items += [item] * int(rng.integers(1, 3)) if item.frame_diameter else []
        items = items[:4]
        if not lay_out(plan, items, edge=EDGE).fits:
            missed += _brute(plan, items, rng, 1000)
    assert missed <= cases // 100


def test_one_disc_that_just_fits() -> None:
    inner = 0.2 + 2 * EDGE
    plan = BoxPlan(width=inner + 0.036, height=inner + 0.036, depth=0.3)
    only_front = disc(0.2, 0.1, faces=("front",))
    assert lay_out(plan, [only_front], edge=EDGE).fits
    layout = lay_out(replace(plan, width=plan.width - 0.002), [only_front], edge=EDGE)
    assert not layout.fits
    assert layout.shortfall == pytest.approx(0.002, abs=1e-6)
    assert "2 mm too large" in layout.reason


def test_depth_is_counted_from_the_outer_face() -> None:
    plan = BoxPlan(width=0.4, height=0.4, depth=0.2 + 0.018)
    assert lay_out(plan, [disc(0.2, 0.2, faces=("front",))], edge=EDGE).fits
    layout = lay_out(plan, [disc(0.2, 0.216, faces=("front",))], edge=EDGE)
    assert layout.shortfall == pytest.approx(0.016, abs=1e-6)
    assert layout.reason == "the 200 mm driver needs 198 mm behind the panel, there are 182 mm: 16 mm short"


# Least square side for n equal discs of radius 1, centres in a square of side s: closed forms for n = 1, 2, 4, 5
# (side = 2, 2 + √2, 4, 2 + 2√2). Classical results, from memory.
SQUARES = {
    1: 2.0,
    2: 2 + math.sqrt(2),
    3: 2 + (math.sqrt(2) + math.sqrt(6)) / 2,
    4: 4.0,
    5: 2 + 2 * math.sqrt(2),
}


@pytest.mark.parametrize("n", sorted(SQUARES))
def test_known_packings_in_a_square(n: int) -> None:
    r = 0.05
    for factor, fits in ((1.0002, True), (0.998, False)):
        inner = SQUARES[n] * r * factor
        plan = BoxPlan(width=inner + 0.036, height=inner + 0.036, depth=0.4)
        layout = lay_out(plan, [disc(2 * r, faces=("front",))] * n, edge=0.0)
        assert layout.fits is fits, (n, factor, layout.reason)


def test_three_discs_in_a_strip() -> None:
    """Two on top of each other fill a strip of height 4r; the third nests beside: width (2 + √3)·r, closed form."""
    r = 0.05
    space = Space(width=0.9, height=4 * r + 0.036 + 1e-6, depth=0.3)
    found = least_stretch(space, 0.018, "width", [disc(2 * r, faces=("front",))] * 3, edge=0.0)
    assert found.size == pytest.approx((2 + math.sqrt(3)) * r + 0.036, abs=1e-3)


def test_equal_passives_sit_opposite_each_other() -> None:
    plan = BoxPlan(width=0.6, height=0.3, depth=0.4)
    items = [
        disc(0.2, 0.09),
        *[disc(0.25, 0.08, kind="passive", faces=("left", "right", "top", "bottom"))] * 2,
    ]
    layout = lay_out(plan, items, edge=EDGE)
    assert layout.opposed == ((1, 2),)
    a, b = layout.places[1:]
    assert np.allclose(np.array(a.inward), -np.array(b.inward))
    one_side = [items[0], *[replace(items[1], faces=("bottom",))] * 2]
    assert lay_out(plan, one_side, edge=EDGE).opposed == ()


def test_forced_opposition() -> None:
    plan = BoxPlan(width=0.6, height=0.3, depth=0.4)
    pair = [disc(0.2, 0.09, opposed_with=1), disc(0.2, 0.09, opposed_with=0)]
    assert lay_out(plan, pair, edge=EDGE).opposed == ((0, 1),)
    stuck = [replace(i, faces=("front", "left")) for i in pair]
    layout = lay_out(plan, stuck, edge=EDGE)
    assert not layout.fits
    assert "opposite" in layout.reason
    with pytest.raises(InputError, match="opposed_with"):
        lay_out(plan, [pair[0], disc(0.1)], edge=EDGE)


def test_words_for_a_crowd() -> None:
    plan = BoxPlan(width=0.5, height=0.32, depth=0.4)
    items = [*[disc(0.25, 0.05, kind="passive", faces=("front",))] * 2, disc(0.21, 0.05, faces=("front",))]
    layout = lay_out(plan, items, edge=EDGE)
    assert layout.reason.startswith("two 250 mm passives and a 210 mm driver do not fit side by side")
    assert layout.shortfall == min(more for _, more in layout.growth)
    for axis, more in layout.growth:
        assert lay_out(replace(plan, **{axis: getattr(plan, axis) + more}), items, edge=EDGE).fits
        assert f"{1e3 * more:.0f} mm more {axis}" in layout.reason


def test_collision_is_told_from_crowding() -> None:
    plan = BoxPlan(width=0.3, height=0.3, depth=0.2)
    items = [disc(0.2, 0.11, faces=("front",)), disc(0.2, 0.11, faces=("back",))]
    layout = lay_out(plan, items, edge=EDGE)
    assert "collide" in layout.reason


@pytest.mark.parametrize("axis", ["width", "height", "depth"])
def test_least_stretch_fits_and_hardly_less_does(axis: str) -> None:
    rng = np.random.default_rng(3)
    space = Space(width=0.62, height=0.35, depth=0.40)
    for _ in range(25):
        items = [disc(rng.uniform(0.1, 0.25), rng.uniform(0.05, 0.15)) for _ in range(rng.integers(1, 4))]
        found = least_stretch(space, 0.018, axis, items, edge=EDGE)
        plan = BoxPlan(width=0.62, height=0.35, depth=0.40)
        assert math.isfinite(found.size) == lay_out(plan, items, edge=EDGE).fits
        if math.isfinite(found.size):
            assert lay_out(replace(plan, **{axis: found.size + 1e-9}), items, edge=EDGE).fits
            assert not lay_out(replace(plan, **{axis: found.size - 0.004}), items, edge=EDGE).fits


def test_a_larger_box_fits_as_well() -> None:
    """Not guaranteed by a bounded search; at most one case in a hundred may say otherwise."""
    broken = total = 0
    for seed in range(1000, 1250):
        rng = np.random.default_rng(seed)
        plan, items = random_case(seed)
        if plan.shape != "box" or not lay_out(plan, items, edge=EDGE).fits:
            continue
        total += 1
        axis = ("width", "height", "depth")[rng.integers(3)]
        larger = replace(plan, **{axis: getattr(plan, axis) + rng.uniform(0.001, 0.2)})
        broken += not lay_out(larger, items, edge=EDGE).fits
    assert total > 40
    assert broken <= total // 100


def test_many_agree_with_one() -> None:
    """The compiled loop, the quick one included, calls nothing right that the patient one rejects."""
    rng = np.random.default_rng(11)
    space = Space(width=0.62, height=0.25, depth=0.40)
    kinds = [disc(f, 0.4 * f, kind=k) for f in (0.13, 0.17, 0.22) for k in ("driver", "passive")]
    sets = np.full((60, 5), -1)
    for row in sets:
        n = rng.integers(1, 6)
        row[:n] = rng.integers(0, len(kinds), n)
    outer = np.tile([0.62, 0.25, 0.40], (60, 1))
    quick = fits_many(space, 0.018, outer, kinds, sets, edge=EDGE)
    size = least_stretches(space, 0.018, "width", kinds, sets, edge=EDGE)
    plan = BoxPlan(width=0.62, height=0.25, depth=0.40)
    for row, fits, least in zip(sets, quick, size, strict=True):
        layout = lay_out(plan, [kinds[k] for k in row if k >= 0], edge=EDGE)
        assert (fits > 0) <= layout.fits
        if math.isfinite(least):
            assert layout.fits


def test_least_golden_box_has_room() -> None:
    items = [disc(0.21, 0.1), disc(0.25, 0.1, kind="passive")]
    width, height, depth = least_golden(0.018, items, edge=EDGE)
    assert height / depth == pytest.approx(1.618034)
    assert lay_out(BoxPlan(width=width, height=height, depth=depth), items, edge=EDGE).fits
    assert not lay_out(
        BoxPlan(width=width * 0.98, height=height * 0.98, depth=depth * 0.98), items, edge=EDGE
    ).fits


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_bad_items(bad: float) -> None:
    with pytest.raises(InputError, match="must be >= 0 m"):
        disc(0.1, bad)
    with pytest.raises(InputError, match="edge"):
        lay_out(BoxPlan(width=0.4, height=0.4, depth=0.4), [disc(0.1)], edge=bad)


def test_item_shapes() -> None:
    with pytest.raises(InputError, match="either"):
        Item(kind="vent")
    with pytest.raises(InputError, match="no wider"):
        Item(kind="driver", frame_diameter=0.1, cutout_diameter=0.2)
    with pytest.raises(InputError, match="faces"):
        disc(0.1, faces=("side",))
