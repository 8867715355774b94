"""The families as generators of candidates: which drivers, wirings and openings there are to combine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import ends
from boxwright.acoustics.ducts import vent_loss_factor
from boxwright.acoustics.limits import GRAVITY, air_speed_limit, linear_travel, sag
from boxwright.air import Air
from boxwright.brief import FACES, Brief
from boxwright.compound import equivalent_driver
from boxwright.design import Arrangement, VentOpening
from boxwright.parts import Driver, Passive, Sheet, VentStock
from boxwright.search.kernel import CLOSED, FRONT, REAR
from boxwright.search.tables import DriverRow, OpeningRow
from boxwright.workshop.displacement import (
    driver_displacement,
    driver_weight,
    passive_displacement,
    passive_weight,
)

__all__ = [
    "DriverChoice",
    "Family",
    "OpeningChoice",
    "PartsOffer",
    "driver_choices",
    "driver_table",
    "families_of",
    "opening_choices",
    "opening_table",
    "vent_opening",
]

Real = NDArray[np.float64]

# |Z| of a loudspeaker may fall to 80 % of its rated impedance (IEC 60268-5, from memory).
LEAST_LOAD_SHARE = 0.8
# A passive that states no largest added mass is taken to carry twice its own (common practice, no source).
ADDED_SHARE = 2.0
# Density of the plastic that vent tubes are made of (PVC, handbook value from memory). [kg/m³]
TUBE_DENSITY = 1400.0


_UPRIGHT = ("front", "back", "left", "right")
_LYING: dict[str, tuple[str, ...]] = {
    "sideways": (),
    "down": ("bottom",),
    "up": ("top",),
    "any": ("bottom", "top"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsOffer:
    """The parts a search may use."""

    drivers: tuple[Driver, ...] = ()
    passives: tuple[Passive, ...] = ()
    vents: tuple[VentStock, ...] = ()
    sheets: tuple[Sheet, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DriverChoice:
    """A driver, how many, how wired, and the one it amounts to."""

    driver: Driver
    arrangement: Arrangement
    equivalent: Driver


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningChoice:
    """A passive or a vent, how many, and the faces that may carry them.

    Attributes
    ----------
    upright : bool
        A passive whose cone stands upright does not sag; one on the bottom or the top lies and does.
    """

    part: Passive | VentStock
    count: int
    faces: tuple[str, ...] = FACES
    upright: bool = True


class Family(NamedTuple):
    """One family: its name in the brief, where its openings are, and of which kind they may be."""

    name: str
    where: int
    opening: Literal["", "passive", "vent"]


def families_of(brief: Brief) -> tuple[Family, ...]:
    """The families that a brief allows; a bandpass box comes with a vented and with a passive front."""
    table = {
        "closed": (Family("closed", CLOSED, ""),),
        "vented": (Family("vented", REAR, "vent"),),
        "passive": (Family("passive", REAR, "passive"),),
        "bandpass": (Family("bandpass", FRONT, "vent"), Family("bandpass", FRONT, "passive")),
    }
    return tuple(family for name in brief.limits.families for family in table[name])


def driver_choices(brief: Brief, drivers: tuple[Driver, ...]) -> tuple[list[DriverChoice], int]:
    """Every driver, count and wiring that the amplifier can feed, and how many it cannot.

    Returns
    -------
    choices : list of DriverChoice
    refused : int
        Wirings whose resistance is below what the amplifier is rated for.
    """
    least = LEAST_LOAD_SHARE * brief.source.load if brief.source.load is not None else 0.0
    choices, refused = [], 0
    for driver, count in product(drivers, range(1, brief.limits.cones + 1)):
        coils: tuple[Literal["series", "parallel"] | None, ...] = (
            ("series", "parallel") if driver.coils > 1 else (None,)
        )
        for series, coil_wiring in product([s for s in range(1, count + 1) if count % s == 0], coils):
            arrangement = Arrangement(series=series, parallel=count // series, coil_wiring=coil_wiring)
            equivalent = equivalent_driver(driver, arrangement)
            if equivalent.re + brief.source.series_resistance < least:
                refused += 1
                continue
            choices.append(DriverChoice(driver=driver, arrangement=arrangement, equivalent=equivalent))
    return choices, refused


def opening_choices(brief: Brief, kind: str, offer: PartsOffer) -> list[OpeningChoice]:
    """Every passive or vent of the offer in every count, and every way a passive may look, that the brief allows."""
    limits = brief.limits
    if kind == "vent":
        counts = range(1, limits.vents + 1)
        return [OpeningChoice(part=v, count=n, faces=limits.vent_faces) for v in offer.vents for n in counts]
    if kind != "passive":
        return []
    upright = tuple(face for face in limits.passive_faces if face in _UPRIGHT)
    lying = tuple(face for face in limits.passive_faces if face in _LYING[brief.passive_facing])
    return [
        OpeningChoice(part=part, count=count, faces=faces, upright=stands)
        for part in offer.passives
        for count in range(1, limits.passives + 1)
        for faces, stands in ((upright, True), (lying, False))
        if faces
    ]


def driver_table(brief: Brief, choices: list[DriverChoice], wall: float) -> Real:
    """The choices as rows of `DriverRow`, shape (nd, …)."""
    rows = []
    for choice in choices:
        e, one, count = choice.equivalent, choice.driver, choice.arrangement.count
        hang = sag(e.mms, e.cms, choice.arrangement.facing)
        rows.append((
            e.re + brief.source.series_resistance, e.bl, e.mms, e.cms, e.rms, e.sd,
            e.coil.le, e.coil.k, e.coil.n, e.coil.l2, e.coil.r2, e.creep,
            linear_travel(e.xmax, e.xmech, hang),
            e.pmax / e.re if e.pmax is not None else math.inf,
            count * (one.price or 0.0),
            count * driver_weight(one),
            count * driver_displacement(one, wall),
        ))  # fmt: skip
    return np.array(rows, np.float64).reshape(len(rows), len(DriverRow._fields))


def vent_opening(brief: Brief, choice: OpeningChoice, length: float, *, chamber: str) -> VentOpening:
    """A vent of the stock, cut to length; the width of a slot is known (`Geometry.sized`)."""
    stock = choice.part
    assert isinstance(stock, VentStock)  # noqa: S101 - internal: called for vents only
    if stock.shape == "round":
        return VentOpening(
            chamber=chamber, shape="round", diameter=stock.diameter or 0.0, length=length, flare=stock.flare,
            count=choice.count, max_air_speed=brief.limits.air_speed,
        )  # fmt: skip
    return VentOpening(
        chamber=chamber, shape="slot", width=stock.width or 0.0, height=stock.height or 0.0, length=length,
        walls=1, flare=stock.flare, count=choice.count, max_air_speed=brief.limits.air_speed,
    )  # fmt: skip


def _vent_row(brief: Brief, choice: OpeningChoice, air: Air, wall: float) -> tuple[float, ...]:
    stock, n = choice.part, choice.count
    assert isinstance(stock, VentStock)  # noqa: S101 - internal
    shortest = max(wall, 2.0 * stock.flare)
    opening = vent_opening(brief, choice, shortest, chamber="rear")
    area, perimeter = ends.vent_area(opening), ends.vent_perimeter(opening)
    if stock.shape == "round":
        outer = math.pi / 4.0 * (opening.diameter + 2.0 * stock.wall) ** 2
        weight = n * (outer - area) * TUBE_DENSITY
    else:  # the panel that parts the slot from the box; its other sides are the box itself
        outer = opening.width * (opening.height + stock.wall)
        weight = n * (outer - area) * 700.0
    return (
        True, n, area, 0.0, 0.0, 0.0, math.inf, 0.0, math.inf,
        ends.vent_effective_length(opening) - shortest,
        vent_loss_factor(1.0, area, perimeter, air.density, air.viscosity),
        air_speed_limit(opening), shortest, n * outer,
        n * (stock.price or 0.0), n * (stock.price_per_metre or 0.0), 0.0, weight, 0.0,
    )  # fmt: skip


def _passive_row(choice: OpeningChoice, wall: float) -> tuple[float, ...]:
    part, n = choice.part, choice.count
    assert isinstance(part, Passive)  # noqa: S101 - internal
    hanging = 0.0 if choice.upright else GRAVITY * part.cmp
    return (
        False, n, part.sp, part.mmp, part.cmp, part.rmp, linear_travel(part.xmax, part.xmech, 0.0), hanging,
        part.added_mass_max if part.added_mass_max is not None else ADDED_SHARE * part.mmp,
        0.0, 0.0, math.inf, 0.0, 0.0,
        n * (part.price or 0.0), 0.0, n * passive_weight(part), 0.0, n * passive_displacement(part, wall),
    )  # fmt: skip


def opening_table(brief: Brief, choices: list[OpeningChoice], *, wall: float) -> Real:
    """The choices as rows of `OpeningRow`, shape (no, …).

    Parameters
    ----------
    wall : float
        Thickness of the sheet, the shortest vent there is. [m]
    """
    rows = [
        _passive_row(c, wall) if isinstance(c.part, Passive) else _vent_row(brief, c, brief.air, wall)
        for c in choices
    ]
    if not rows:  # closed boxes have none; the kernel still wants a row to look at
        return np.ones((1, len(OpeningRow._fields)))
    return np.array(rows, np.float64)
