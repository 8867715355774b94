"""Spaces of every shape, faces that may not carry, parts that say little, and asking for too much or too little."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.support.small_store import BOARD, OFFER, brief, driver, passive, tube

from boxwright.acoustics.response import predict
from boxwright.brief import Brief, Space
from boxwright.design import PassiveOpening
from boxwright.errors import BoxwrightError, InputError
from boxwright.parts import Body, VentStock
from boxwright.search.families import PartsOffer
from boxwright.search.run import shortlist
from boxwright.search.shortlist import Shortlist
from boxwright.workshop.displacement import net_volume_of
from boxwright.workshop.shape import inside_volume

THREE = ("closed", "vented", "passive")
ALL = (*THREE, "bandpass")


def _search(asked: Brief, offer: PartsOffer = OFFER) -> Shortlist:
    found = shortlist(asked, offer, workers=2)
    assert found.fitting + sum(r.count for r in found.rejections) == found.tried
    return found


SPACES = {
    "wedge": Space(shape="wedge", width=0.7, height=0.34, depth=0.42, depth_top=0.24),
    # an L lying on its back: shallow above, deep below
    "profile": Space(
        shape="profile",
        width=0.62,
        profile=((0.0, 0.0), (0.46, 0.0), (0.46, 0.24), (0.26, 0.24), (0.26, 0.36), (0.0, 0.36)),
    ),
    "volume": Space(shape="volume", net_volume=0.035),
    "box with little air": Space(width=0.56, height=0.30, depth=0.36, net_volume=0.028),
}


@pytest.mark.parametrize("shape", SPACES)
def test_other_shapes(shape: str) -> None:
    asked = brief(families=ALL, space=SPACES[shape], level=97.0)
    found = _search(asked)
    assert len(found.candidates) > 3
    for candidate in found.candidates:
        plan = candidate.design.box
        assert plan is not None
        assert candidate.inside_volume == pytest.approx(inside_volume(plan), rel=1e-9)
        if asked.space.net_volume is not None:
            assert candidate.net_volume <= asked.space.net_volume * (1.0 + 1e-9)
        else:
            assert plan.width <= asked.space.width + 1e-9
            assert plan.shape == asked.space.shape
            assert net_volume_of(candidate.design).net == pytest.approx(candidate.net_volume, rel=0.02)


def test_faces_that_may_carry() -> None:
    asked = brief(
        families=THREE, driver_faces=("front",), passive_faces=("bottom", "top"), vent_faces=("back",)
    )
    found = _search(replace(asked, passive_facing="down"))
    assert {c.family for c in found.candidates} == {"vented", "passive"}
    for candidate in found.candidates:
        for words in candidate.layout:
            name, face = words.split(": ")
            face = face.split(",")[0]
            if name in {"Wren", "Tern"}:
                assert face == "front"
            elif name in {"Clover", "Sorrel"}:
                assert face in {"bottom", "top"}
            else:
                assert face == "back"


def test_a_passive_that_faces_down_loses_travel_to_its_weight() -> None:
    soft = passive("Soft", cmp=2.0e-3, xmax=9e-3, xmech=None)
    offer = replace(OFFER, passives=(soft,))
    room = Space(width=0.6, height=0.34, depth=0.4)
    plain = brief(families=("passive",), passive_faces=("bottom", "top"), level=94.0, space=room)
    down = _search(replace(plain, passive_facing="down"), offer)
    assert down.candidates
    for candidate in down.candidates:
        opening = candidate.design.openings[0]
        assert isinstance(opening, PassiveOpening)
        assert opening.facing == "down"
        hang = (soft.mmp + opening.added_mass) * 9.80665 * soft.cmp
        limit = next(x for x in predict(candidate.design).limits if x.name == "passive travel")
        assert limit.allowed == pytest.approx(9e-3 - hang, rel=1e-9)
    side = _search(brief(families=("passive",), level=94.0, space=room), offer)
    assert side.candidates
    assert max(c.clean_level for c in side.candidates) > max(
        (c.clean_level for c in down.candidates), default=0.0
    )


def test_walls_that_leave_nothing() -> None:
    with pytest.raises(BoxwrightError, match=r"room|walls"):
        shortlist(brief(space=Space(width=0.5, height=0.029, depth=0.4)), OFFER)


def test_a_space_too_small_for_every_part_is_no_error() -> None:
    found = _search(brief(families=ALL, space=Space(width=0.12, height=0.12, depth=0.12)))
    assert found.candidates == ()
    assert found.fitting == 0
    assert found.rejections
    assert found.balanced is None


@pytest.mark.parametrize("level", [-200.0, 0.0, 300.0])
def test_absurd_levels(level: float) -> None:
    found = _search(brief(families=ALL, level=level))
    if level > 200.0:
        assert found.candidates == ()
        assert found.routes
    else:
        assert found.candidates
        assert all(math.isfinite(c.clean_level) for c in found.candidates)


@pytest.mark.parametrize("band_top", [34.0 * 1.01, 40.0, 400.0])
def test_narrow_and_wide_bands(band_top: float) -> None:
    found = _search(brief(families=ALL, band_top=band_top, level=92.0))
    assert found.candidates
    assert not any("fell away" in words for words in found.warnings) or len(found.candidates) > 10
    for candidate in found.candidates:
        assert math.isfinite(candidate.group_delay)


@pytest.mark.parametrize("q_leak", [1e-6, 0.01, 1e9])
def test_leaks(q_leak: float) -> None:
    found = _search(brief(families=ALL, q_leak=q_leak, level=92.0))
    assert bool(found.candidates) == (q_leak > 1.0)


BARE = PartsOffer(
    drivers=(driver("Bare", xmax=None, xmech=None, pmax=None, price=None, body=Body()),),
    passives=(passive("Bald", xmax=None, xmech=None, added_mass_max=None, price=None, body=Body()),),
    vents=(
        VentStock(name="Pipe", diameter=0.1),
        VentStock(name="Gap", shape="slot", height=0.04, wall=0.012),
    ),
    sheets=(replace(BOARD, price=None),),
)


def test_parts_that_say_little() -> None:
    found = _search(brief(families=ALL, space=Space(width=0.7, height=0.4, depth=0.5), weight=40.0), BARE)
    assert {c.family for c in found.candidates} >= {"vented", "passive"}
    assert any("without a price, counted as free: Bald, Bare, board" in words for words in found.warnings)
    for candidate in found.candidates:
        assert candidate.price == 0.0
        assert math.isfinite(candidate.weight)
    assert found.to_dict()["candidates"]


def test_nothing_limits_and_nothing_is_lost_by_it() -> None:
    """No travel, no power, no amplifier: every level is as good, and the rest decides."""
    asked = brief(families=("closed", "passive"), reach=60.0, budget=None, weight=None)
    found = _search(replace(asked, source=replace(asked.source, max_power=None, load=None)), BARE)
    assert found.candidates
    assert all(c.clean_level == math.inf for c in found.candidates if c.family == "closed")
    first = found.candidates[found.best["smallest"]]
    assert first.outer_volume == min(c.outer_volume for c in found.candidates)
    plain = found.to_dict()["candidates"]
    assert all(c["clean_level_db"] is None for c in plain if c["family"] == "closed")  # type: ignore[union-attr,index]


def test_no_sheet_is_offered() -> None:
    found = _search(brief(families=THREE), replace(OFFER, sheets=()))
    assert found.candidates
    assert any("assumed" in words for words in found.warnings)


@pytest.mark.parametrize("missing", ["drivers", "passives", "vents"])
def test_nothing_of_a_kind_is_offered(missing: str) -> None:
    found = _search(brief(families=THREE), replace(OFFER, **{missing: ()}))  # type: ignore[arg-type]
    families = {c.family for c in found.candidates}
    if missing == "drivers":
        assert found.candidates == ()
        assert "no driver is offered: nothing to search" in found.warnings
    else:
        gone = "vented" if missing == "vents" else "passive"
        assert gone not in families
        assert families
        assert f"the brief allows {gone} boxes but no such part is offered" in found.warnings


def test_equal_names_are_different_parts() -> None:
    """Two vents and two drivers of one name: each is judged by what it is."""
    one = _search(
        brief(families=("vented",), vents=1), replace(OFFER, vents=(tube("Fern", 0.068), tube("Moss", 0.110)))
    )
    two = _search(
        brief(families=("vented",), vents=1), replace(OFFER, vents=(tube("Fern", 0.068), tube("Fern", 0.110)))
    )
    assert [replace(c.design, name="") for c in one.candidates] == [
        replace(c.design, name="") for c in two.candidates
    ]
    same = replace(OFFER, drivers=(OFFER.drivers[0], replace(OFFER.drivers[1], name="Wren")))
    plain, twins = _search(brief(families=THREE)), _search(brief(families=THREE), same)
    assert len(plain.candidates) == len(twins.candidates)
    assert {c.design.driver.sd for c in twins.candidates} == {c.design.driver.sd for c in plain.candidates}
    assert [c.price for c in plain.candidates] == [c.price for c in twins.candidates]
    assert len(twins.routes) == len(plain.routes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"families": ("closed", "open")}, "families"),
        ({"passives": 0}, "passives"),
        ({"cones": 9}, "cones"),
        ({"vent_faces": ("lid",)}, "vent_faces"),
        ({"level": math.nan}, "level"),
        ({"reach": 120.0}, "band_top"),
        ({"content_from": 50.0}, "content_from"),
        ({"q_leak": 0.0}, "q_leak"),
    ],
)
def test_contradictions_are_input_errors(changes: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        shortlist(brief(**changes), OFFER)


def test_workers() -> None:
    with pytest.raises(InputError, match="workers must be at least 1"):
        shortlist(brief(), OFFER, workers=0)
