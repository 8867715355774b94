"""From a row of figures to a whole design: whole millimetres and grams, predicted in full, laid out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics import ends
from boxwright.acoustics.limits import linear_travel
from boxwright.acoustics.response import Response, level_per_volt, predict
from boxwright.acoustics.tuning import added_mass_for, vent_length_for
from boxwright.brief import Brief
from boxwright.design import Chamber, Design, Facing, Filter, PassiveOpening, VentOpening
from boxwright.errors import DoesNotFit
from boxwright.parts import Passive, VentStock
from boxwright.search.blocks import Task
from boxwright.search.candidate import COLUMNS
from boxwright.search.families import DriverChoice, OpeningChoice, vent_opening
from boxwright.search.geometry import Built
from boxwright.search.kernel import FRONT
from boxwright.search.rooms import BENDS
from boxwright.search.shortlist import Candidate
from boxwright.search.tables import driver_row, opening_row
from boxwright.workshop.carcass import carcass
from boxwright.workshop.shape import inside_volume, outer_volume

__all__ = ["at_level", "keeps", "parts_in_words", "realise", "sketch"]

Real = NDArray[np.float64]

# What a candidate may lose between the kernel (lumped vents, 32 frequencies) and the full prediction.
_LEVEL_SLACK = 0.05
_REACH_SLACK = 1.003

_BAND_POINTS = 97
_AT = {name: i for i, name in enumerate(COLUMNS)}


def parts_in_words(
    driver: DriverChoice, opening: OpeningChoice | None, amount: float, route: str = ""
) -> str:
    """What a candidate is made of, e.g. ``Heron 200 · 2 × Moth 250 + 240 g``."""
    a = driver.arrangement
    words = driver.driver.name if a.count == 1 else f"{a.count} × {driver.driver.name}"
    if a.count > 1:
        how = "series" if a.parallel == 1 else "parallel" if a.series == 1 else f"{a.series}s{a.parallel}p"
        words += f" ({how})"
    if driver.driver.coils > 1 and a.coil_wiring:
        words += f", coils in {a.coil_wiring}"
    if opening is None:
        return words
    times = f"{opening.count} × " if opening.count > 1 else ""
    if isinstance(opening.part, Passive):
        return f"{words} · {times}{opening.part.name} + {amount * 1e3:.0f} g"
    stock = opening.part
    size = (
        f"Ø{(stock.diameter or 0.0) * 1e3:.0f}"
        if stock.shape == "round"
        else f"{(stock.width or 0.0) * 1e3:.0f} × {(stock.height or 0.0) * 1e3:.0f}"
    )
    bent = f", {route}" if route and route != "straight" else ""
    return f"{words} · {times}{size} × {amount * 1e3:.0f} mm{bent}"


def _chambers(brief: Brief, task: Task, net: float, share: float) -> tuple[Chamber, Chamber | None]:
    q = brief.limits.q_leak
    if task.family.where != FRONT:
        return Chamber(volume=net, q_leak=q), None
    return Chamber(volume=net * share, q_leak=q), Chamber(volume=net * (1.0 - share), q_leak=q)


def _facing(choice: OpeningChoice | None, built: Built | None) -> Facing:
    """Which way the passives look; of those on the bottom and the top both, the lost travel is the same."""
    if choice is None or choice.upright:
        return "sideways"
    if built is None:
        return "down" if "bottom" in choice.faces else "up"
    sides = {
        place.side
        for item, place in zip(built.items, built.layout.places, strict=True)
        if item.kind == "passive"
    }
    return "up" if sides == {"top"} else "down"


def _opening(
    brief: Brief, task: Task, choice: OpeningChoice | None, tuning: float, volume: float, facing: Facing
) -> tuple[PassiveOpening | VentOpening | None, float]:
    """The opening that tunes a volume, and its grams or its length, in whole grams or millimetres."""
    if choice is None:
        return None, 0.0
    chamber = "front" if task.family.where == FRONT else "rear"
    if isinstance(choice.part, Passive):
        mass = added_mass_for(choice.part, volume, choice.count, brief.air, tuning)
        mass = round(max(mass, 0.0), 3)
        return (
            PassiveOpening(
                passive=choice.part,
                chamber=chamber,
                count=choice.count,
                added_mass=mass,
                facing=facing,
            ),
            mass,
        )
    stock = task.geometry.sized(choice.part)
    sized = replace(choice, part=stock)
    start = max(task.geometry.wall, 2.0 * stock.flare)
    trial = vent_opening(brief, sized, start, chamber=chamber)
    correction = ends.vent_effective_length(trial) - start
    length = vent_length_for(ends.vent_area(trial), correction, volume, choice.count, brief.air, tuning)
    length = round(max(length, start), 3)
    return replace(trial, length=length, price=stock.price), length


def _displaced(task: Task, d: int, o: int, length: float) -> float:
    taken = driver_row(task.driver_table, d).displacement
    if task.openings:
        opening = opening_row(task.opening_table, o)
        taken += opening.displacement + opening.bore * length
    return taken


def _where(task: Task, driver: DriverChoice, built: Built) -> tuple[str, ...]:
    words = [f"{driver.driver.name or 'driver'}: on the partition"] if task.partition is not None else []
    for item, place in zip(built.items, built.layout.places, strict=True):
        opposed = any(place.item in pair for pair in built.layout.opposed)
        words.append(f"{item.name or item.kind}: {place.face}" + (", opposed" if opposed else ""))
    return tuple(words)


def sketch(
    brief: Brief,
    task: Task,
    pair: int,
    row: Real,
    high_passes: tuple[Filter | None, ...],
    *,
    net: float | None = None,
    built: Built | None = None,
) -> tuple[Design, float, str]:
    """A candidate as a design, its grams or its length, and its parts in words.

    Parameters
    ----------
    pair : int
        Driver · openings + opening.
    row : ndarray, shape (len(COLUMNS),)
        Its figures.
    net : float, optional
        Net volume, where it is known better than the row knows it. [m³]
    built : Built, optional
        Its box; without one the design has none.
    """
    d, o = divmod(pair, task.offered)
    driver = task.drivers[d]
    opening = task.openings[o] if task.openings else None
    rear, front = _chambers(
        brief, task, float(row[_AT["net"]]) if net is None else net, float(row[_AT["share"]])
    )
    tuned = front.volume if front is not None else rear.volume
    fitted, amount = _opening(brief, task, opening, float(row[_AT["tuning"]]), tuned, _facing(opening, built))
    added = high_passes[int(row[_AT["high_pass"]])]
    filters = brief.source.filters if added is None else (*brief.source.filters, added)
    words = parts_in_words(driver, opening, amount, built.route if built is not None else "")
    design = Design(
        name=f"{brief.name}: {words}" if brief.name else words,
        air=brief.air,
        source=replace(brief.source, filters=filters),
        driver=driver.driver,
        arrangement=driver.arrangement,
        rear=rear,
        front=front,
        openings=(fitted,) if fitted is not None else (),
        placement=brief.target.placement,
        box=built.plan if built is not None else None,
    )
    return design, amount, words


def at_level(brief: Brief, design: Design) -> tuple[Design, Response]:
    """The design driven so that it gives the level wanted at the reach, and its prediction from reach to band top."""
    frequency = np.geomspace(brief.target.reach, brief.target.band_top, _BAND_POINTS)
    at_reach = float(level_per_volt(design, [brief.target.reach])[0])
    voltage = round(10.0 ** ((brief.target.level - at_reach) / 20.0), 1)
    driven = replace(design, source=replace(design.source, voltage=max(voltage, 0.1)))
    return driven, predict(driven, frequency=frequency)


def realise(
    brief: Brief, task: Task, pair: int, row: Real, high_passes: tuple[Filter | None, ...]
) -> Candidate:
    """Build one candidate in full.

    Parameters
    ----------
    pair : int
        Driver · openings + opening.
    row : ndarray, shape (len(COLUMNS),)
        Its figures.

    Raises
    ------
    DoesNotFit
        If its parts find no place after all, or nothing is left of its air.
    """
    d, o = divmod(pair, task.offered)
    driver = task.drivers[d]
    opening = task.openings[o] if task.openings else None
    length = (
        float(row[_AT["amount"]]) if opening is not None and isinstance(opening.part, VentStock) else None
    )
    share = float(row[_AT["share"]])
    partition = task.partition
    chamber = (lambda plan: partition.front_of(plan, share, d)) if partition is not None else None
    built = task.geometry.build(float(row[_AT["inside"]]), driver, opening, length, chamber)
    inside = inside_volume(built.plan)
    net = inside - _displaced(task, d, o, length or 0.0)
    if brief.space.net_volume is not None:
        net = min(net, brief.space.net_volume)
    net = math.floor(net * 1e5) / 1e5  # to 10 mL: nobody builds closer
    if net <= 0.0:
        raise DoesNotFit("the parts leave no air in the box")
    design, amount, words = sketch(brief, task, pair, row, high_passes, net=net, built=built)
    design, response = at_level(brief, design)
    fitted = design.openings[0] if design.openings else None
    lowest = int(np.argmin(response.clean_level))
    wood = carcass(built.plan, task.geometry.sheet)
    weight, price = _sums(task, d, o, amount, wood.weight, wood.price or 0.0)
    if built.route == "folded" and opening is not None and isinstance(opening.part, VentStock):
        price += BENDS * opening.count * (opening.part.bend_price or 0.0)
    return Candidate(
        family=task.family.name,
        parts=words,
        design=design,
        outer_volume=outer_volume(built.plan),
        inside_volume=inside,
        net_volume=net,
        tuning=response.tuning,
        added_mass=amount if isinstance(fitted, PassiveOpening) else None,
        vent_length=amount if isinstance(fitted, VentOpening) else None,
        vent_route=built.route,
        high_pass=high_passes[int(row[_AT["high_pass"]])],
        reach=response.reach if response.reach is not None else math.inf,
        clean_level=float(response.clean_level[lowest]),
        binding=response.binding[lowest],
        binding_frequency=float(response.frequency[lowest]),
        price=price,
        weight=weight,
        group_delay=float(response.group_delay.max()),
        passive_ratio=_ratio(driver, fitted),
        layout=_where(task, driver, built),
    )


def keeps(brief: Brief, candidate: Candidate) -> bool:
    """Whether a candidate keeps the brief in the full prediction too."""
    limits = brief.limits
    return (
        candidate.clean_level >= brief.target.level - _LEVEL_SLACK
        and candidate.reach <= brief.target.reach * _REACH_SLACK
        and (limits.budget is None or candidate.price <= limits.budget)
        and (limits.weight is None or candidate.weight <= limits.weight)
    )


def _sums(
    task: Task, d: int, o: int, amount: float, wood_weight: float, wood_price: float
) -> tuple[float, float]:
    """Weight and price of a whole box. [kg], [currency]."""
    driver = driver_row(task.driver_table, d)
    weight, price = driver.weight + wood_weight, driver.price + wood_price
    if task.openings:
        opening = opening_row(task.opening_table, o)
        weight += opening.weight
        price += opening.price
        if opening.is_vent > 0.5:
            weight += opening.weight_per_metre * amount
            price += opening.price_per_metre * amount
        else:
            weight += opening.number * amount
    return weight, price


def _ratio(driver: DriverChoice, opening: PassiveOpening | VentOpening | None) -> float | None:
    """Volume the passives can move over what the cones can."""
    if not isinstance(opening, PassiveOpening):
        return None
    part = opening.passive
    able = opening.count * part.sp * linear_travel(part.xmax, part.xmech, 0.0)
    needed = driver.equivalent.sd * linear_travel(driver.equivalent.xmax, driver.equivalent.xmech, 0.0)
    return able / needed if math.isfinite(able) and math.isfinite(needed) and needed > 0.0 else None
