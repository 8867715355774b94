"""Wood, weight, price and what stands inside, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boxwright.design import Arrangement, BoxPlan, Chamber, Design, PassiveOpening, VentOpening
from boxwright.errors import DoesNotFit, InputError
from boxwright.parts import Body, Driver, Passive, Sheet
from boxwright.workshop.carcass import carcass, finished_weight
from boxwright.workshop.displacement import (
    BRACE_SHARE,
    driver_displacement,
    net_volume,
    net_volume_of,
    passive_displacement,
)

PLAN = BoxPlan(width=0.5, height=0.4, depth=0.3, wall=0.02)
SHEET = Sheet(name="ply", length=2.5, width=1.25, thickness=0.02, density=650.0, price=80.0)
DRIVER = Driver(re=6, bl=12, mms=0.1, cms=4e-4, rms=2, sd=0.0346, name="d")
PASSIVE = Passive(mmp=0.15, cmp=5e-4, rmp=1, sp=0.0346, name="p")


def test_wood_by_the_panels() -> None:
    """Butt joints: two sides 0.4 × 0.3, two of 0.46 × 0.3 between them, two of 0.46 × 0.36 between all."""
    panels = 2 * 0.4 * 0.3 + 2 * 0.46 * 0.3 + 2 * 0.46 * 0.36
    wood = carcass(PLAN, SHEET, waste=0.2)
    assert wood.panel_area == pytest.approx(panels, rel=1e-12)
    assert wood.wood_volume == pytest.approx(panels * 0.02, rel=1e-12)
    assert wood.weight == pytest.approx(panels * 0.02 * 650.0, rel=1e-12)
    assert wood.price == pytest.approx(80.0 * panels / 0.8 / (2.5 * 1.25), rel=1e-12)
    assert carcass(PLAN, replace(SHEET, price=None)).price is None


def test_braces_are_wood_and_take_air() -> None:
    braced = replace(PLAN, braces=2)
    extra = 2 * BRACE_SHARE * 0.36 * 0.26 * 0.02
    assert carcass(braced, SHEET).wood_volume - carcass(PLAN, SHEET).wood_volume == pytest.approx(
        extra, rel=1e-9
    )
    assert net_volume(PLAN).net - net_volume(braced).net == pytest.approx(extra, rel=1e-9)


def test_weights_say_what_is_estimated() -> None:
    wood = carcass(PLAN, SHEET)
    known = replace(DRIVER, body=Body(weight=5.0))
    exact = finished_weight(wood, drivers=[(known, 2)])
    assert exact.total == pytest.approx(wood.weight + 10.0)
    assert exact.warnings == ()
    guessed = finished_weight(wood, drivers=[(DRIVER, 1)], passives=[(PASSIVE, 2, 0.1)])
    assert len(guessed.warnings) == 2
    # Common practice, no source: a 10-inch driver weighs 2 to 8 kg, a passive of that size 0.5 to 3 kg.
    assert 2.0 < finished_weight(wood, drivers=[(DRIVER, 1)]).total - wood.weight < 8.0
    assert 0.5 < finished_weight(wood, passives=[(PASSIVE, 1, 0.0)]).total - wood.weight < 3.0


def test_net_volume_adds_up() -> None:
    vent = VentOpening(diameter=0.07, length=0.2, count=2)
    found = net_volume(PLAN, drivers=((DRIVER, 1),), passives=((PASSIVE, 2, 0.1),), vents=(vent,))
    assert found.inside == pytest.approx(0.46 * 0.36 * 0.26)
    assert found.net == pytest.approx(found.inside - sum(found.taken.values()), rel=1e-12)
    assert found.taken["passives"] == pytest.approx(
        2 * (passive_displacement(PASSIVE, 0.02) + 0.1 / 7850), rel=1e-9
    )
    assert any("driver d" in name for name in found.estimated)
    stated = replace(DRIVER, body=Body(displacement=2e-3))
    assert driver_displacement(stated, 0.018) == 2e-3
    assert net_volume(PLAN, drivers=((stated, 1),)).estimated == ()


def test_net_volume_of_a_design() -> None:
    design = Design(
        driver=DRIVER, arrangement=Arrangement(parallel=2), rear=Chamber(volume=0.03), box=PLAN,
        openings=(PassiveOpening(passive=PASSIVE, count=2, added_mass=0.1), VentOpening(diameter=0.07, length=0.2)),
    )  # fmt: skip
    expected = net_volume(
        PLAN, drivers=((DRIVER, 2),), passives=((PASSIVE, 2, 0.1),), vents=(design.openings[1],)
    )
    assert net_volume_of(design).net == pytest.approx(expected.net, rel=1e-12)
    with pytest.raises(InputError, match="box"):
        net_volume_of(replace(design, box=None))


def test_a_box_too_small_for_its_driver() -> None:
    small = BoxPlan(width=0.15, height=0.15, depth=0.1, wall=0.02)
    with pytest.raises(DoesNotFit, match="takes"):
        net_volume(small, drivers=((DRIVER, 1),))


def test_bad_sheets_and_bodies() -> None:
    with pytest.raises(InputError, match="density"):
        carcass(PLAN, replace(SHEET, density=-1.0))
    with pytest.raises(InputError, match="waste"):
        carcass(PLAN, SHEET, waste=1.0)
    with pytest.raises(InputError, match="cutout_diameter"):
        driver_displacement(replace(DRIVER, body=Body(frame_diameter=0.2, cutout_diameter=0.3)), 0.018)
    with pytest.raises(InputError, match="depth"):
        driver_displacement(replace(DRIVER, body=Body(depth=-0.1)), 0.018)
