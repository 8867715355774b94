"""Things made by a program rather than read from a file: refused with a sentence, or computed, never anything else."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from tests.support.boxes import closed_box, driver, passive, passive_box, vented_box

import boxwright as bw

WRONG = (0.0, -1.0, math.nan, math.inf, "1", None)
PASSIVE, VENTED, CLOSED = passive_box(), vented_box(), closed_box()
SPACE, TARGET = bw.Space(width=0.6, height=0.2, depth=0.4), bw.Target(reach=32.0, level=100.0)
OFFER = bw.PartsOffer(drivers=(driver(),), passives=(passive(),))


def refuses(call: Callable[[], object], word: str) -> None:
    with pytest.raises(bw.InputError, match=word) as caught:
        call()
    assert "\n" not in str(caught.value)


def with_opening(design: bw.Design, **changes: Any) -> bw.Design:
    return replace(design, openings=(replace(design.openings[0], **changes),))


@pytest.mark.parametrize("value", WRONG)
@pytest.mark.parametrize("field", ["re", "bl", "mms", "cms", "sd"])
def test_drivers(field: str, value: Any) -> None:
    wrong = replace(driver(), **{field: value})
    refuses(lambda: bw.predict(replace(PASSIVE, driver=wrong)), f"^{field} of the driver must be")
    refuses(
        lambda: bw.shortlist(bw.Brief(space=SPACE, target=TARGET), replace(OFFER, drivers=(wrong,))), field
    )


@pytest.mark.parametrize("value", WRONG)
@pytest.mark.parametrize("field", ["mmp", "cmp", "sp"])
def test_passives(field: str, value: Any) -> None:
    wrong = replace(passive(), **{field: value})
    refuses(lambda: bw.predict(with_opening(PASSIVE, passive=wrong)), f"^{field} of the passive must be")
    refuses(
        lambda: bw.shortlist(bw.Brief(space=SPACE, target=TARGET), replace(OFFER, passives=(wrong,))), field
    )


@pytest.mark.parametrize("value", WRONG)
def test_boxes_sources_and_air(value: Any) -> None:
    for word, design in (
        ("volume of the rear chamber", replace(PASSIVE, rear=bw.Chamber(volume=value))),
        ("diameter of the vents", with_opening(VENTED, diameter=value)),
        ("voltage of the source", replace(PASSIVE, source=bw.Source(voltage=value))),
        ("density of the air", replace(PASSIVE, air=replace(PASSIVE.air, density=value))),
        ("speed_of_sound of the air", replace(PASSIVE, air=replace(PASSIVE.air, speed_of_sound=value))),
        ("count of the passives", with_opening(PASSIVE, count=value)),
    ):
        refuses(lambda design=design: bw.predict(design), word)


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, "1"])
def test_what_may_be_zero(value: Any) -> None:
    for word, design in (
        ("rms of the driver", replace(PASSIVE, driver=replace(driver(), rms=value))),
        ("rmp of the passive", with_opening(PASSIVE, passive=replace(passive(), rmp=value))),
        ("added_mass of the passives", with_opening(PASSIVE, added_mass=value)),
        ("length of the vents", with_opening(VENTED, length=value)),
        ("series_resistance of the source", replace(PASSIVE, source=bw.Source(series_resistance=value))),
        ("fill of the rear chamber", replace(CLOSED, rear=bw.Chamber(volume=0.02, fill=value))),
    ):
        refuses(lambda design=design: bw.predict(design), word)


def test_chambers_and_words_that_are_not_there() -> None:
    refuses(
        lambda: bw.predict(with_opening(PASSIVE, chamber="nowhere")),
        "chamber of the passives must be one of rear",
    )
    refuses(lambda: bw.predict(with_opening(PASSIVE, to="rear")), "to of the passives must be one of outside")
    refuses(lambda: bw.predict(with_opening(PASSIVE, to="nowhere")), "to of the passives")
    refuses(lambda: bw.predict(replace(PASSIVE, rear=None)), "and there is none")
    refuses(lambda: bw.predict(with_opening(PASSIVE, facing="east")), "facing of the passives")
    arrangement: Any = bw.Arrangement(mounting="sideways")  # type: ignore[arg-type]
    refuses(lambda: bw.predict(replace(PASSIVE, arrangement=arrangement)), "mounting of the drivers")
    segment = bw.DuctSegment(length=1.0, area_start=-1.0, area_end=1.0)
    refuses(
        lambda: bw.predict(replace(CLOSED, rear=bw.Chamber(volume=1.0, segments=(segment,)))), "area_start"
    )
    twice = (bw.Chamber(name="x", volume=1.0),) * 2
    refuses(lambda: bw.predict(replace(CLOSED, chambers=twice)), "name of a further chamber")


@pytest.mark.parametrize("value", ["abc", [], [[1.0, 2.0]], [1j], [None], [math.nan], [0.0], [1e9], -5.0])
def test_frequencies(value: Any) -> None:
    refuses(lambda: bw.predict(PASSIVE, frequency=value), "frequency must")


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 1e300, 1e-300, "1"])
def test_voltages(value: Any) -> None:
    refuses(lambda: bw.predict(PASSIVE, voltage=value), "voltage must")


def test_what_is_no_design() -> None:
    for thing in (None, "box.toml", 3, [None]):
        refuses(lambda thing=thing: bw.predict(thing), "design must be a Design")
    assert bw.predict([]) == []


@pytest.mark.parametrize("value", [-1.0, math.nan, "1"])
@pytest.mark.parametrize(
    "field", ["budget", "weight", "air_speed", "edge", "depth_clearance", "q_leak", "cones"]
)
def test_limits(field: str, value: Any) -> None:
    brief = bw.Brief(space=SPACE, target=TARGET, limits=replace(bw.Limits(), **{field: value}))
    refuses(lambda: bw.shortlist(brief, OFFER), f"^{field} must be")


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, "1"])
@pytest.mark.parametrize("field", ["reach", "band_top", "content_from"])
def test_targets(field: str, value: Any) -> None:
    brief = bw.Brief(space=SPACE, target=replace(TARGET, **{field: value}))
    refuses(lambda: bw.shortlist(brief, OFFER), f"^{field} must be")


@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf, "1"])
@pytest.mark.parametrize("field", ["width", "height", "depth"])
def test_spaces(field: str, value: Any) -> None:
    brief = bw.Brief(space=replace(SPACE, **{field: value}), target=TARGET)
    refuses(lambda: bw.shortlist(brief, OFFER), f"^{field} must be")


def test_words_of_a_brief() -> None:
    wrong: Any = "zz"
    for word, brief in (
        ("families", bw.Brief(space=SPACE, target=TARGET, limits=bw.Limits(families=(wrong,)))),
        ("families", bw.Brief(space=SPACE, target=TARGET, limits=bw.Limits(families=()))),
        ("driver_faces", bw.Brief(space=SPACE, target=TARGET, limits=bw.Limits(driver_faces=(wrong,)))),
        ("protection", bw.Brief(space=SPACE, target=TARGET, protection=wrong)),
        ("passive_facing", bw.Brief(space=SPACE, target=TARGET, passive_facing=wrong)),
        ("shape", bw.Brief(space=replace(SPACE, shape=wrong), target=TARGET)),
        ("space", bw.Brief(space=SPACE, target=replace(TARGET, placement=bw.Placement(space=wrong)))),
    ):
        refuses(lambda brief=brief: bw.shortlist(brief, OFFER), f"^{word}")


@pytest.mark.parametrize("value", [0, -3, math.nan, 0.5, "2"])
def test_workers(value: Any) -> None:
    refuses(
        lambda: bw.shortlist(bw.Brief(space=SPACE, target=TARGET), OFFER, workers=value), "workers must be"
    )


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_tunings(value: float) -> None:
    part, air = passive(), bw.standard_air()
    refuses(lambda: bw.added_mass_for(part, value, 1, air, 30.0), "volume must be")
    refuses(lambda: bw.added_mass_for(part, 0.02, 1, air, value), "tuning must be")
    refuses(lambda: bw.vented_tuning(value, 0.2, 0.03, 1, air), "area must be")
    refuses(lambda: bw.vent_length_for(0.004, 0.1, value, 1, air, 30.0), "volume must be")
    if value:
        refuses(lambda: bw.passive_tuning(part, 0.02, 1, air, added_mass=value), "mass of the passive")
        refuses(lambda: bw.vent_length_for(0.004, value, 0.03, 1, air, 30.0), "end_corrections must be")
