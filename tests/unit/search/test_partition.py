from __future__ import annotations

import numpy as np
import pytest

from boxwright.design import BoxPlan
from boxwright.errors import DoesNotFit
from boxwright.search.partition import Partition, front_half
from boxwright.workshop.shape import inside_volume

WALL, EDGE = 0.018, 0.010
PLAN = BoxPlan(width=0.600 + 2 * WALL, height=0.300 + 2 * WALL, depth=0.400 + 2 * WALL, wall=WALL)


def _for(frame: float, depth: float, count: int = 1) -> Partition:
    ways = [[0.600, 0.400, 0.300], [0.400, 0.600, 0.300], [0.300, 0.600, 0.400]]
    sides = np.array(ways)[None, :, :, None].repeat(2, axis=3)
    return Partition(
        volumes=np.array([0.010, 0.072]),
        sides=sides,
        frames=np.array([frame]),
        depths=np.array([depth]),
        counts=np.array([count]),
        wall=WALL,
        edge=EDGE,
        volume=0.0,
        weight=0.0,
        price=0.0,
    )


@pytest.mark.parametrize(
    ("frame", "depth", "count", "share", "fits"),
    [
        (0.279, 0.150, 1, 0.5, True),  # closed form: 300 mm panel less two edges of 10 mm leave 280 mm
        (0.281, 0.140, 1, 0.5, True),  # the panel across the 300 mm side is 600 × 400 mm
        (0.281, 0.140, 1, 0.4, False),  # but leaves 0.4·(300 − 18) = 112.8 mm behind it
        (0.381, 0.100, 1, 0.5, False),
        (0.180, 0.100, 3, 0.5, True),  # three in a row want 3·180 + 4·10 = 580 mm of the 600 × 300 mm panel
        (0.188, 0.100, 3, 0.5, False),
        (
            0.180,
            0.100,
            4,
            0.5,
            True,
        ),  # two by two want 2·180 + 3·10 = 390 mm both ways: only 600 × 400 mm has them
        (0.186, 0.100, 4, 0.5, False),
    ],
)
def test_what_a_panel_carries(frame: float, depth: float, count: int, share: float, fits: bool) -> None:
    one = _for(frame, depth, count)
    zero = np.array([0])
    assert bool(one.takes(zero, np.array([0.072]), np.array([share])).any()) is fits
    if fits:
        front = one.front_of(PLAN, share, 0)
        assert inside_volume(front) < inside_volume(PLAN)
    else:
        with pytest.raises(DoesNotFit, match="no partition"):
            one.front_of(PLAN, share, 0)


def test_the_front_half_is_half_of_what_the_panel_leaves() -> None:
    # closed form: the panel stands across the 600 mm side and is 18 mm thick
    assert inside_volume(front_half(PLAN)) == pytest.approx(0.5 * (0.600 - WALL) * 0.300 * 0.400, rel=1e-9)


def test_across_the_width_of_every_other_shape() -> None:
    wedge = BoxPlan(shape="wedge", width=0.700, height=0.350, depth=0.300, depth_top=0.200, wall=WALL)
    front = front_half(wedge)
    assert (front.height, front.depth, front.depth_top) == (wedge.height, wedge.depth, wedge.depth_top)
    assert inside_volume(front) == pytest.approx(
        0.5 * inside_volume(wedge) * (0.700 - 3 * WALL) / (0.700 - 2 * WALL), rel=1e-9
    )
