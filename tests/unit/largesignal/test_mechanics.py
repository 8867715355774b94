"""Sag, recoil, sliding and hopping against mechanics that needs no loudspeaker."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.support.boxes import closed_box, driver, passive, passive_box, vented_box

from boxwright.acoustics.response import predict
from boxwright.design import Arrangement, BoxPlan, Chamber, Design, PassiveOpening, Source
from boxwright.errors import InputError
from boxwright.largesignal.mechanics import box_mass, hang_of, reaction
from boxwright.parts import Coil, Sheet

GRAVITY = 9.80665
PLAIN = replace(driver(), coil=Coil())
CUBE = BoxPlan(width=0.45, height=0.45, depth=0.45, wall=0.018)


def alone(facing: str = "sideways") -> Design:
    return Design(
        driver=PLAIN,
        arrangement=Arrangement(facing=facing),
        rear=Chamber(volume=0.03),
        source=Source(voltage=10.0),
    )


def with_passives(count: int, box: BoxPlan | None = CUBE, facing: str = "sideways") -> Design:
    opening = PassiveOpening(passive=passive(), count=count, added_mass=0.1, facing=facing)
    return replace(alone(), openings=(opening,), box=box)


def test_sag_is_gravity_over_resonance_squared() -> None:
    for facing, words in (("up", "inward"), ("down", "outward")):
        (found,) = hang_of(alone(facing))
        assert found.sag == pytest.approx(GRAVITY / (2.0 * math.pi * PLAIN.fs) ** 2, rel=1e-12)
        assert found.left == pytest.approx(PLAIN.xmax - found.sag)
        assert found.lost == pytest.approx(found.sag / PLAIN.xmax)
        assert words in found.words
    assert hang_of(alone())[0].sag == 0.0


def test_a_heavy_passive_must_not_face_down() -> None:
    opening = PassiveOpening(passive=passive(), added_mass=3.0, facing="down")
    found = hang_of(replace(alone(), openings=(opening,)))[1]
    assert found.left == 0.0
    assert "must not face that way" in found.words


def test_recoil_of_one_cone_is_its_mass_times_acceleration() -> None:
    f = np.array([20.0, 50.0, 120.0])
    found = reaction(alone(), mass=12.0, frequency=f)
    travel = predict(alone(), frequency=f, voltage=1.0).driver_travel
    np.testing.assert_allclose(found.size, PLAIN.mms * (2.0 * np.pi * f) ** 2 * travel, rtol=1e-9)


def test_far_above_resonance_it_is_the_motors_force() -> None:
    """Newton's third law: all of the motor's force on the cone is felt by the magnet."""
    found = reaction(alone(), mass=12.0, frequency=[3000.0])
    assert found.size[0] == pytest.approx(math.sqrt(2.0) * PLAIN.bl / PLAIN.re, rel=1e-3)


def test_direction_without_a_box_is_assumed_and_said() -> None:
    found = reaction(alone("up"), mass=12.0)
    assert np.all(found.force[:, [0, 2]] == 0.0)
    assert any("no box" in words for words in found.words)
    assert np.all(reaction(alone(), mass=12.0).force[:, :2] == 0.0)


def test_outward_acceleration_pushes_the_box_inward() -> None:
    """Far above resonance a positive voltage throws the cone outward, and the box to the back."""
    force = reaction(alone(), mass=12.0, frequency=[3000.0]).force[0]
    assert force[2].real > 0.0
    assert abs(force[2].imag) < 0.05 * force[2].real
    assert reaction(alone("up"), mass=12.0, frequency=[3000.0]).force[0, 1].real < 0.0


def test_passives_opposite_each_other_cancel() -> None:
    f = np.geomspace(20.0, 100.0, 9)
    found = reaction(with_passives(2), mass=12.0, frequency=f)
    motionless = predict(with_passives(2), frequency=f, voltage=1.0).driver_travel
    np.testing.assert_allclose(found.size, PLAIN.mms * (2.0 * np.pi * f) ** 2 * motionless, rtol=1e-9)
    assert any("opposite each other cancel" in words for words in found.words)


def test_what_opposed_mounting_would_do() -> None:
    f = np.geomspace(20.0, 100.0, 33)
    same_way = reaction(with_passives(2, box=None), mass=12.0, frequency=f)
    opposed = reaction(with_passives(2), mass=12.0, frequency=f)
    np.testing.assert_allclose(math.sqrt(2.0) * same_way.if_opposed, opposed.size, rtol=1e-9)
    assert any(words.startswith("opposed pairs cancel") for words in same_way.words)
    assert same_way.size.max() > 2.0 * opposed.size.max()


def test_push_push_drivers_leave_nothing() -> None:
    pair = replace(alone(), arrangement=Arrangement(parallel=2, mounting="push-push"))
    assert np.all(reaction(pair, mass=12.0).size == 0.0)
    assert np.all(np.isinf(reaction(pair, mass=12.0).slide_voltage))
    side = replace(pair, arrangement=Arrangement(parallel=2))
    assert np.all(reaction(side, mass=12.0).size > 0.0)


def test_hops_when_the_upward_force_is_its_weight() -> None:
    f = np.array([30.0, 60.0])
    found = reaction(alone("up"), mass=9.0, frequency=f)
    np.testing.assert_allclose(found.size * found.hop_voltage, 9.0 * GRAVITY, rtol=1e-9)


def test_slides_when_friction_gives_way_at_some_moment() -> None:
    """Walk through a period in small steps: at the voltage named the floor just holds."""
    design = with_passives(1, facing="down")
    found = reaction(design, mass=11.0, friction=0.35, frequency=[31.0, 47.0])
    t = np.linspace(0.0, 1.0, 7201)
    for k, voltage in enumerate(found.slide_voltage):
        moments = math.sqrt(2.0) * voltage * np.real(np.exp(2j * np.pi * t)[:, None] * found.force[k])
        pressed = 11.0 * GRAVITY - moments[:, 1]
        pull = np.hypot(moments[:, 0], moments[:, 2])
        assert np.max(pull - 0.35 * pressed) == pytest.approx(0.0, abs=0.01 * 11.0 * GRAVITY)
        assert np.ptp(moments[:, 1]) > 0.0


def test_lighter_boxes_walk_earlier_and_are_told_so() -> None:
    light, heavy = (reaction(passive_box(), mass=m) for m in (5.0, 20.0))
    np.testing.assert_allclose(4.0 * light.slide_voltage, heavy.slide_voltage)
    assert any("slides from" in words for words in light.words)


def test_mass_of_the_box() -> None:
    sheet = Sheet(length=2.44, width=1.22, thickness=0.018, density=700.0)
    cube = replace(alone(), box=CUBE)
    wood = (0.45**3 - 0.414**3) * 700.0
    assert box_mass(cube, sheet) == pytest.approx(wood + 3.4)
    with pytest.raises(InputError, match="box"):
        box_mass(alone(), sheet)


def test_vents_and_refusals() -> None:
    assert any("vents is left out" in words for words in reaction(vented_box(), mass=12.0).words)
    for wrong in ({"mass": 0.0}, {"mass": 12.0, "friction": -1.0}, {"mass": 12.0, "frequency": [0.0]}):
        with pytest.raises(InputError, match="must be > 0"):
            reaction(closed_box(), **wrong)
