"""What is called a near miss is one: with that limit relaxed by as much and a hair more, the family comes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from tests.support.small_store import OFFER, brief, passive, tube

from boxwright.brief import Brief, Space
from boxwright.search.families import PartsOffer
from boxwright.search.run import shortlist
from boxwright.search.shortlist import NearMiss

THREE = ("closed", "vented", "passive")
HAIR = 1.01

LIGHT = replace(OFFER, passives=(passive("Light", mmp=0.03, added_mass_max=0.03),))
SHORT = replace(OFFER, vents=(tube("Short", 0.09, max_length=0.5, bend_price=None),))

CASES: dict[str, tuple[Brief, PartsOffer]] = {
    "loud": (brief(families=THREE, level=108.0), OFFER),
    "a little too loud": (brief(families=("passive",), level=104.5), OFFER),
    "deep": (brief(families=THREE, reach=24.0, level=92.0), OFFER),
    "poor": (brief(families=THREE, budget=60.0), OFFER),
    "bandpass, poor": (brief(families=("bandpass",), budget=80.0), OFFER),
    "light": (brief(families=("vented", "passive"), weight=7.0), OFFER),
    "small": (brief(families=("vented", "passive"), space=Space(width=0.4, height=0.2, depth=0.3), level=94.0), OFFER),
    "flat": (brief(families=("vented", "passive"), space=Space(width=0.7, height=0.11, depth=0.6), level=94.0), OFFER),
    "thin": (
        brief(families=("closed",), space=Space(width=0.7, height=0.10, depth=0.6), level=80.0, reach=70.0), OFFER
    ),
    "unprotected": (replace(brief(families=THREE, level=101.0, content_from=10.0), protection="none"), OFFER),
    "light passives": (
        brief(families=("passive",), level=90.0, passives=1, space=Space(width=0.6, height=0.34, depth=0.4)), LIGHT
    ),
    "no bends": (
        brief(families=("vented",), space=Space(width=0.48, height=0.28, depth=0.34), level=94.0, vents=1), SHORT
    ),
}  # fmt: skip


def _relaxed(asked: Brief, offer: PartsOffer, miss: NearMiss) -> Iterator[tuple[Brief, PartsOffer]]:
    """Every way of reading the relaxation."""
    by, target, limits = miss.relaxation * HAIR, asked.target, asked.limits
    if miss.limit == "level":
        yield replace(asked, target=replace(target, level=target.level - by)), offer
    elif miss.limit == "reach":
        yield replace(asked, target=replace(target, reach=target.reach + by)), offer
    elif miss.limit == "budget":
        yield replace(asked, limits=replace(limits, budget=limits.budget + by)), offer  # type: ignore[operator]
    elif miss.limit == "weight":
        yield replace(asked, limits=replace(limits, weight=limits.weight + by)), offer  # type: ignore[operator]
    elif miss.limit == "content below the reach":
        yield replace(asked, target=replace(target, content_from=target.reach)), offer
    elif miss.limit == "added mass":
        more = tuple(replace(p, added_mass_max=(p.added_mass_max or 0.0) + by) for p in offer.passives)
        yield asked, replace(offer, passives=more)
    else:
        assert miss.limit in {"room for the port", "room for the parts"}
        for axis in ("width", "height", "depth"):
            space = replace(asked.space, **{axis: getattr(asked.space, axis) + by})
            yield replace(asked, space=space), offer


SEEN: set[str] = set()


@pytest.mark.parametrize("name", CASES)
def test_a_near_miss_is_one(name: str) -> None:
    asked, offer = CASES[name]
    found = shortlist(asked, offer, workers=2)
    here = {c.family for c in found.candidates}
    assert found.near_misses
    for miss in found.near_misses:
        SEEN.add(miss.limit)
        assert miss.family not in here
        assert miss.relaxation > 0.0
        assert miss.parts in miss.words
        lets_in = False
        for relaxed, parts in _relaxed(asked, offer, miss):
            # alone, for it may fit and still be beaten by another family
            alone = replace(relaxed, limits=replace(relaxed.limits, families=(miss.family,)))
            lets_in = lets_in or bool(shortlist(alone, parts, workers=2).candidates)
        assert lets_in, miss


def test_of_every_kind() -> None:
    """The cases above between them saw every limit that can be relaxed."""
    if len(SEEN) > 1:  # all of the file ran
        kinds = {
            "level",
            "reach",
            "budget",
            "weight",
            "content below the reach",
            "room for the parts",
            "added mass",
        }
        assert kinds <= SEEN


def test_a_family_that_fits_has_no_near_miss() -> None:
    found = shortlist(brief(families=THREE), OFFER, workers=2)
    assert {m.family for m in found.near_misses} == {"closed"}
    easy = shortlist(brief(families=THREE, level=84.0, reach=60.0), OFFER, workers=2)
    assert easy.near_misses == ()
