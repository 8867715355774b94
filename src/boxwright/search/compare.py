"""Closed, port or passive for every driver: what each needs, what it reaches, what it costs."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.response import Response
from boxwright.brief import Brief
from boxwright.design import PassiveOpening, VentOpening
from boxwright.parts import Driver
from boxwright.search.blocks import LAYOUT, BlockResult, place
from boxwright.search.candidate import COLUMNS, FITS
from boxwright.search.prepare import Prepared
from boxwright.search.realise import at_level, sketch
from boxwright.search.shortlist import RouteHere, Routes
from boxwright.search.survey import EASY, PAIRS, SHORTFALLS, Survey, refined, survey
from boxwright.search.verdicts import BINDING, FAMILY_WORDS

__all__ = ["meeting", "routes", "surveys", "with_fronts"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

_AT = {name: i for i, name in enumerate(COLUMNS)}


def surveys(brief: Brief, prepared: Prepared, workers: int | None = None) -> tuple[Survey, ...]:
    """A survey of every task."""
    return tuple(survey(brief, task, workers=workers) for task in prepared.tasks)


def meeting(brief: Brief, found: Survey) -> tuple[Whole, Real]:
    """Pairs and rows of surveyed candidates that meet the brief: finer than the grid where it is coarse."""
    fine = _fine(brief, found)
    good = np.flatnonzero(fine.total <= EASY)
    pairs, rows = fine.pairs[good], fine.rows[good].copy()
    fits = place(found.task, pairs, rows) == FITS
    return pairs[fits], rows[fits]


def with_fronts(looked: tuple[Survey, ...], fronts: list[BlockResult | None]) -> tuple[Survey, ...]:
    """Surveys together with what the search found; those without any candidate left out."""
    found = []
    for one, front in zip(looked, fronts, strict=True):
        joined = one
        if front is not None and front.rows.size:
            joined = Survey(
                task=one.task,
                pairs=np.concatenate((one.pairs, front.keys[:, 0])),
                rows=np.concatenate((one.rows, front.rows)),
                short=np.concatenate((one.short, np.zeros((front.rows.shape[0], len(SHORTFALLS))))),
            )
        found.append(joined)
    return tuple(s for s in found if s.pairs.size)


def _fine(brief: Brief, found: Survey) -> Survey:
    """Finer points around the best pairs of each driver."""
    if not found.pairs.size:
        return found
    task = found.task
    order = np.lexsort((found.liking, found.total))
    seen: set[int] = set()
    taken: Counter[Driver] = Counter()
    chosen = []
    for i in order.tolist():
        pair = int(found.pairs[i])
        driver = task.drivers[pair // task.offered].driver
        if pair not in seen and taken[driver] < PAIRS:
            seen.add(pair)
            taken[driver] += 1
            chosen.append(i)
    return refined(brief, found, np.array(sorted(chosen), np.int64))


def _best_of_each_driver(brief: Brief, found: Survey) -> dict[Driver, tuple[Survey, int, bool]]:
    """For each driver the best surveyed candidate of this family, and whether its parts find places."""
    task = found.task
    fine = _fine(brief, found)
    placed = place(task, fine.pairs, fine.rows.copy()) != LAYOUT
    best: dict[Driver, tuple[Survey, int, bool]] = {}
    liking, total = fine.liking, fine.total
    for i in sorted(
        range(len(fine.pairs)),
        key=lambda k: (total[k] > EASY or not placed[k], total[k], not placed[k], liking[k]),
    ):
        driver = task.drivers[fine.pairs[i] // task.offered].driver
        best.setdefault(driver, (fine, i, bool(placed[i])))
    return best


def _lacks(brief: Brief, found: Survey, i: int, placed: bool) -> list[str]:
    """What a surveyed candidate breaks, in words."""
    row = found.rows[i]
    vented = bool(found.task.openings) and found.task.opening_table[0, 0] > 0.5
    words = []
    if row[_AT["level_short"]] > EASY:
        what = BINDING.get(int(row[_AT["binding"]]), "")
        words.append(f"{row[_AT['level_short']]:.1f} dB short of the level ({what})")
    if row[_AT["reach_short"]] > EASY:
        words.append(
            f"{row[_AT['reach_short']] + 3.0:.1f} instead of 3 dB down at {brief.target.reach:.3g} Hz"
        )
    if row[_AT["protection_short"]] > EASY:
        words.append(f"{row[_AT['protection_short']]:.0%} over its travel below the reach")
    if row[_AT["amount_over"]] > EASY:
        over = row[_AT["amount_over"]]
        short_vent = row[_AT["amount"]] < 0.05
        if vented:
            words.append(
                "the port would be too short to build"
                if short_vent
                else f"the port is {over * 1e3:.0f} mm too long"
            )
        elif row[_AT["amount"]] < 0.0:
            words.append(f"the passive is {over * 1e3:.0f} g too heavy")
        else:
            words.append(f"{over * 1e3:.0f} g more than the passive takes")
    if row[_AT["price_over"]] > EASY:
        words.append(f"{row[_AT['price_over']]:.0f} over budget")
    if row[_AT["weight_over"]] > EASY:
        words.append(f"{row[_AT['weight_over']]:.1f} kg over the weight limit")
    if not placed:
        words.append("its parts find no place on the faces allowed")
    return words


def _at_wanted(brief: Brief, response: Response, quantity: Real) -> float:
    """The largest of a quantity from reach to band top when each frequency plays at the level wanted."""
    return float(np.max(quantity * 10.0 ** ((brief.target.level - response.level) / 20.0)))


def _route(brief: Brief, prepared: Prepared, found: Survey, i: int, placed: bool) -> RouteHere:
    row, pair = found.rows[i], int(found.pairs[i])
    lacks = _lacks(brief, found, i, placed)
    design, amount, words = sketch(brief, found.task, pair, row, prepared.high_passes)
    _, response = at_level(brief, design)
    needs, air_speed, travel_used, ratio = "nothing", None, None, None
    if design.openings:
        opening, moved = design.openings[0], response.openings[0]
        if isinstance(opening, VentOpening) and moved.air_speed is not None:
            size = (
                f"Ø{opening.diameter * 1e3:.0f}"
                if opening.shape == "round"
                else f"{opening.width * 1e3:.0f} × {opening.height * 1e3:.0f}"
            )
            times = f"{opening.count} × " if opening.count > 1 else ""
            needs = f"{times}{size} × {amount * 1e3:.0f} mm"
            air_speed = _at_wanted(brief, response, moved.air_speed)
        elif isinstance(opening, PassiveOpening) and moved.travel is not None:
            needs = f"{opening.count} × {amount * 1e3:.0f} g"
            allowed = next(
                (limit.allowed for limit in response.limits if limit.name == "passive travel"), math.inf
            )
            travel_used = _at_wanted(brief, response, moved.travel) / allowed if allowed > 0.0 else math.inf
        ratio = float(moved.volume[0] / response.driver_volume[0])
    return RouteHere(
        family=found.task.family.name,
        parts=words,
        fits=not lacks,
        why_not=", ".join(lacks),
        needs=needs,
        air_speed=air_speed,
        travel_used=travel_used,
        volume_ratio=ratio,
        reach=response.reach if response.reach is not None else math.inf,
        clean_level=float(response.clean_level.min()),
        price=float(row[_AT["price"]]),
        weight=float(row[_AT["weight"]]),
        net_volume=float(row[_AT["net"]]),
    )


def _advice(shown: list[RouteHere], short: dict[str, float]) -> str:
    fitting = [r for r in shown if r.fits]
    if not fitting:
        closest = min(shown, key=lambda r: short[r.family])
        return f"none here; {FAMILY_WORDS[closest.family]} comes closest: {closest.why_not}"
    pick = min(fitting, key=lambda r: (r.price, r.net_volume))
    others = []
    for route in shown:
        if route is pick:
            continue
        if route.fits:
            others.append(f"{FAMILY_WORDS[route.family]} works too, for {route.price - pick.price:.0f} more")
        else:
            others.append(f"{FAMILY_WORDS[route.family]}: {route.why_not}")
    why = "; ".join(others)
    return f"{FAMILY_WORDS[pick.family]}, {pick.price:.0f}" + (f" ({why})" if why else "")


def routes(brief: Brief, prepared: Prepared, found: tuple[Survey, ...]) -> tuple[Routes, ...]:
    """For every driver the best box of each family, whether or not it meets the brief, and what it needs.

    Drivers that meet the brief come first, the cheapest before the others, then those that come closest. Each driver
    is looked at with every wiring, with the openings that suit it best, over a coarse grid refined around
    its best candidates.
    """
    best: dict[Driver, dict[str, tuple[float, RouteHere]]] = {}
    for one in found:
        for driver, (fine, i, placed) in _best_of_each_driver(brief, one).items():
            short = float(fine.total[i]) + (0.0 if placed else 1.0)
            families = best.setdefault(driver, {})
            family = one.task.family.name
            if family not in families or short < families[family][0]:
                families[family] = (short, _route(brief, prepared, fine, i, placed))
    listed = []
    for driver, families in best.items():
        shown = [route for _, route in families.values()]
        shorts = {family: short for family, (short, _) in families.items()}
        entry = Routes(driver=driver.name, routes=tuple(shown), advice=_advice(shown, shorts))
        cheapest = min((r.price for r in shown if r.fits), default=math.inf)
        listed.append(((cheapest, min(shorts.values()), driver.name), entry))
    return tuple(entry for _, entry in sorted(listed, key=lambda pair: pair[0]))
