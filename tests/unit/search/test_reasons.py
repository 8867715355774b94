"""Every reason in words: a brief and parts that break exactly that limit, and how many boxes break it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pytest
from tests.support.small_store import BOARD, OFFER, brief, driver, passive, tube

from boxwright.brief import Space
from boxwright.design import Source
from boxwright.parts import Body, Driver, Passive, VentStock
from boxwright.search import candidate as codes
from boxwright.search.blocks import LAYOUT
from boxwright.search.families import PartsOffer
from boxwright.search.prepare import TUNINGS, VOLUMES
from boxwright.search.run import shortlist
from boxwright.search.verdicts import LOAD_WORDS, REASON_WORDS

# Loud enough for nothing: whatever else a part can do, it does.
EASY = {"level": 40.0, "budget": None, "weight": None, "passives": 1, "vents": 1}
SOFT = driver("Soft", fs=20.0, qes=0.35, xmax=20e-3)
THIN = tube("Thin", 0.050, flare=0.0)


@dataclass(frozen=True)
class Case:
    """One family, one driver, one opening, and the only words that may come back."""

    code: int
    family: str
    changes: dict[str, object] = field(default_factory=dict)
    driver: Driver = SOFT
    opening: Passive | VentStock | None = None
    beside: tuple[int, ...] = ()  # what the other end of the grid breaks before


CASES = {
    "no air": Case(codes.NO_AIR, "closed", driver=driver(body=Body(displacement=0.2))),
    "vent fills": Case(codes.VENT_FILLS, "vented", opening=tube("Drum", 0.24, flare=0.0)),
    "net large": Case(
        codes.NET_LARGE, "closed", {"space": Space(width=0.5, height=0.3, depth=0.4, net_volume=1e-4)}
    ),
    "mass light": Case(codes.MASS_LIGHT, "passive", opening=passive(mmp=40.0)),
    "mass heavy": Case(codes.MASS_HEAVY, "passive", opening=passive(mmp=1e-4, added_mass_max=1e-4)),
    "length short": Case(
        codes.LENGTH_SHORT, "vented", opening=tube("Straw", 0.004, flare=0.0), beside=(codes.REACH,)
    ),
    "length long": Case(
        codes.LENGTH_LONG,
        "vented",
        {"space": Space(width=1.0, height=0.6, depth=0.8)},
        opening=tube("Stub", 0.10, flare=0.0, max_length=0.015, bend_price=None),
        beside=(codes.VENT_FILLS, codes.LENGTH_SHORT),
    ),
    "budget": Case(codes.BUDGET, "closed", {"budget": 1.0}),
    "weight": Case(codes.WEIGHT, "closed", {"weight": 0.1}),
    "cone travel": Case(codes.CONE_TRAVEL, "closed", driver=driver(xmax=1e-7)),
    "passive travel": Case(
        codes.PASSIVE_TRAVEL, "passive", opening=passive(xmax=1e-8, mmp=1e-3, added_mass_max=9.0)
    ),
    "air speed": Case(
        codes.AIR_SPEED, "vented", {"air_speed": 1e-4}, opening=THIN,
        beside=(codes.VENT_FILLS, codes.LENGTH_SHORT, codes.LENGTH_LONG),
    ),
    "voltage": Case(codes.VOLTAGE, "closed", {"source": Source(max_voltage=1e-4)}),
    "current": Case(codes.CURRENT, "closed", {"source": Source(max_current=1e-5)}),
    "power": Case(codes.POWER, "closed", {"source": Source()}, driver=driver(pmax=1e-10)),
    "reach": Case(codes.REACH, "closed", driver=driver(fs=200.0)),
    "protection": Case(
        codes.PROTECTION,
        "closed",
        {"protection": "given", "content_from": 2.0, "level": 96.0, "source": Source(), "reach": 80.0},
        driver=driver(fs=20.0, xmax=2.2e-3, xmech=None, pmax=None, qes=0.9, mms=0.15),
    ),
    "layout": Case(
        LAYOUT, "closed", {"reach": 90.0},
        driver=driver(
            fs=40.0,
            qes=0.8,
            body=Body(frame_diameter=0.7, cutout_diameter=0.19, depth=0.09, displacement=1e-3),
        ),
        beside=(codes.REACH,),
    ),
}  # fmt: skip


def test_every_reason_has_a_case() -> None:
    assert {case.code for case in CASES.values()} == set(REASON_WORDS)
    assert len(set(REASON_WORDS.values())) == len(REASON_WORDS)


@pytest.mark.parametrize("name", CASES)
def test_reason(name: str) -> None:
    case = CASES[name]
    asked = brief(**{**EASY, "families": (case.family,), **case.changes})
    offer = PartsOffer(
        drivers=(case.driver,),
        passives=(case.opening,) if isinstance(case.opening, Passive) else (),
        vents=(case.opening,) if isinstance(case.opening, VentStock) else (),
        sheets=(BOARD,),
    )
    found = shortlist(asked, offer, workers=1)
    tried = VOLUMES * (TUNINGS if case.opening is not None else 1)
    assert found.tried == tried
    words = {r.reason: r.count for r in found.rejections}
    assert set(words) - {REASON_WORDS[code] for code in case.beside} == {REASON_WORDS[case.code]}
    assert sum(words.values()) == tried
    assert found.fitting == 0
    assert found.candidates == ()
    assert found.balanced is None
    assert found.best == {}


def test_load() -> None:
    """Counted although nothing was searched: an amplifier that can feed no driver says so."""
    low = replace(OFFER, drivers=tuple(replace(d, re=2.0) for d in OFFER.drivers))
    found = shortlist(brief(families=("closed", "passive")), low, workers=1)
    assert {r.reason for r in found.rejections} == {LOAD_WORDS}
    by_family = {r.family: r.count for r in found.rejections}
    assert by_family == {"closed": 2 * VOLUMES, "passive": 2 * 4 * VOLUMES * TUNINGS}
    assert found.tried == sum(by_family.values())
    assert found.candidates == ()


def test_counts_add_up() -> None:
    asked = brief(families=("closed", "vented", "passive", "bandpass"), cones=2)
    found = shortlist(asked, OFFER, workers=2)
    assert found.fitting > 0
    assert found.fitting + sum(r.count for r in found.rejections) == found.tried
    assert [r.count for r in found.rejections] == sorted((r.count for r in found.rejections), reverse=True)
