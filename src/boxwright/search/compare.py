"""Closed, port or passive for every driver, and the smallest change that would let a family in."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boxwright.acoustics.response import Response
from boxwright.brief import Brief
from boxwright.design import PassiveOpening, VentOpening
from boxwright.parts import Driver
from boxwright.search.blocks import BlockResult
from boxwright.search.candidate import COLUMNS
from boxwright.search.prepare import Prepared, retargeted
from boxwright.search.realise import at_level, sketch
from boxwright.search.shortlist import NearMiss, RouteHere, Routes
from boxwright.search.survey import EASY, PAIRS, SHORTFALLS, Survey, refined, survey
from boxwright.search.verdicts import BINDING, FAMILY_WORDS

__all__ = ["near_misses", "routes", "surveys"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

_AT = {name: i for i, name in enumerate(COLUMNS)}
_NEAR_SHOWN = 3  # near misses of each family
_SEEDS = 40
# How far up the reach may go to let a family in, and how closely that is found.
_HIGHEST_REACH, _REACH_STEP = 3.0, 1.01


def surveys(
    brief: Brief, prepared: Prepared, fronts: list[BlockResult | None], workers: int | None = None
) -> tuple[Survey, ...]:
    """A survey of every task that has candidates, with what the search found already."""
    found = []
    for task, front in zip(prepared.tasks, fronts, strict=True):
        one = survey(brief, task, workers=workers)
        if front is not None and front.rows.size:
            one = Survey(
                task=task,
                pairs=np.concatenate((one.pairs, front.keys[:, 0])),
                rows=np.concatenate((one.rows, front.rows)),
                short=np.concatenate((one.short, np.zeros((front.rows.shape[0], len(SHORTFALLS))))),
            )
        found.append(one)
    return tuple(s for s in found if s.pairs.size)


def _best_of_each_driver(brief: Brief, found: Survey) -> dict[Driver, tuple[Survey, int, bool]]:
    """For each driver the best surveyed candidate of this family, and whether its parts find places."""
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
    seeds = np.array(sorted(chosen), np.int64)
    fine = refined(brief, found, seeds)
    least = task.geometry.least_inside(task.pieces, fine.pairs)
    placed = fine.rows[:, _AT["inside"]] >= least
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


def _miss(brief: Brief, prepared: Prepared, found: Survey, i: int, column: int) -> NearMiss:
    row = found.rows[i]
    parts = sketch(brief, found.task, int(found.pairs[i]), row, prepared.high_passes)[2]
    family = found.task.family.name
    name = SHORTFALLS[column]
    amount = float(row[_AT[name]])
    vented = bool(found.task.openings) and found.task.opening_table[0, 0] > 0.5
    if name == "level_short":
        limit, words = "level", f"{amount:.1f} dB less level and {parts} is enough"
    elif name == "protection_short":
        limit = "content below the reach"
        words = f"a programme that holds nothing below {brief.target.reach:.0f} Hz and {parts} stays in its travel"
    elif name == "price_over":
        limit, words = "budget", f"{amount:.0f} more budget buys {parts}"
    elif name == "weight_over":
        limit, words = "weight", f"{amount:.1f} kg more weight allows {parts}"
    elif vented:
        limit, words = (
            "room for the port",
            f"{amount * 1e3:.0f} mm more room along the port and it fits: {parts}",
        )
    else:
        limit, words = "added mass", f"a passive that takes {amount * 1e3:.0f} g more would do: {parts}"
    return NearMiss(family=family, limit=limit, relaxation=amount, words=words, parts=parts)


def _without_place(brief: Brief, prepared: Prepared, found: Survey) -> list[tuple[float, NearMiss]]:
    """Near misses of those that keep every limit but find no place: how much larger the space would have to be."""
    good = np.flatnonzero(found.total <= EASY)
    if not good.size:
        return []
    task = found.task
    seen: list[tuple[float, NearMiss]] = []
    tried: set[int] = set()
    for i in good[np.argsort(found.liking[good], kind="stable")]:
        pair = int(found.pairs[i])
        if pair in tried or len(tried) >= PAIRS:
            continue
        tried.add(pair)
        d, o = divmod(pair, task.offered)
        reason, size = task.geometry.lacking(task.drivers[d], task.openings[o] if task.openings else None)
        if not (0.0 < size < math.inf):
            continue
        parts = sketch(brief, task, pair, found.rows[i], prepared.high_passes)[2]
        miss = NearMiss(
            family=task.family.name,
            limit="room for the parts",
            relaxation=size,
            words=f"{parts}: {reason}",
            parts=parts,
        )
        seen.append((size / 0.05, miss))
    return seen


def _from_reach(brief: Brief, prepared: Prepared, found: Survey) -> list[tuple[float, NearMiss]]:
    """Near miss of a higher reach: the level is wanted from there only, so everything is judged anew."""

    def at(reach: float) -> tuple[Brief, Survey, int] | None:
        target = replace(brief.target, reach=reach)
        other = replace(brief, target=target)
        task = retargeted(other, found.task)
        looked = survey(other, task)
        good = np.flatnonzero(looked.total <= EASY)
        if good.size:
            best = good[np.argsort(looked.liking[good], kind="stable")[:_SEEDS]]
            least = task.geometry.least_inside(task.pieces, looked.pairs[best])
            best = best[looked.rows[best, _AT["inside"]] >= least]
            if best.size:
                return other, looked, int(best[0])
        return None

    low, high = brief.target.reach, min(_HIGHEST_REACH * brief.target.reach, 0.9 * brief.target.band_top)
    answer = at(high) if high > low else None
    if answer is None:
        return []
    while high / low > _REACH_STEP:
        middle = math.sqrt(low * high)
        closer = at(middle)
        if closer is None:
            low = middle
        else:
            high, answer = middle, closer
    other, looked, i = answer
    parts = sketch(other, looked.task, int(looked.pairs[i]), looked.rows[i], prepared.high_passes)[2]
    air = looked.rows[i, _AT["net"]] * 1e3
    words = f"{high:.0f} Hz instead of {brief.target.reach:.0f} and {parts} does it in {air:.0f} litres"
    more = high - brief.target.reach
    miss = NearMiss(family=found.task.family.name, limit="reach", relaxation=more, words=words, parts=parts)
    return [(12.0 * math.log2(high / brief.target.reach), miss)]


def near_misses(
    brief: Brief, prepared: Prepared, found: tuple[Survey, ...], fitting: set[str]
) -> tuple[NearMiss, ...]:
    """The smallest relaxation of one limit that lets in each family that has nothing to offer.

    Parameters
    ----------
    fitting : set of str
        Families that need no relaxation.
    """
    by_family: dict[str, list[tuple[float, NearMiss]]] = {}
    for one in found:
        family = one.task.family.name
        if family in fitting:
            continue
        entries = by_family.setdefault(family, [])
        entries += _without_place(brief, prepared, one)
        entries += _from_reach(brief, prepared, one)
        for column in range(len(SHORTFALLS)):
            if SHORTFALLS[column] == "reach_short":
                continue
            others = np.delete(one.short, column, axis=1).sum(axis=1)
            alone = np.flatnonzero((others <= EASY) & (one.short[:, column] > EASY))
            if not alone.size:
                continue
            seeds = alone[np.argsort(one.short[alone, column], kind="stable")[:8]]
            fine = refined(brief, one, seeds)
            kept = np.flatnonzero(np.delete(fine.short, column, axis=1).sum(axis=1) <= EASY)
            least = (
                one.task.geometry.least_inside(one.task.pieces, fine.pairs[kept])
                if kept.size
                else np.empty(0)
            )
            kept = kept[fine.rows[kept, _AT["inside"]] >= least]
            if kept.size:
                i = int(kept[np.argmin(fine.short[kept, column])])
                if fine.short[i, column] > EASY:
                    entries.append((float(fine.short[i, column]), _miss(brief, prepared, fine, i, column)))
    shown: list[tuple[float, NearMiss]] = []
    for entries in by_family.values():
        by_limit: dict[str, tuple[float, NearMiss]] = {}
        for size, miss in sorted(entries, key=lambda entry: entry[0]):
            by_limit.setdefault(miss.limit, (size, miss))
        shown += list(by_limit.values())[:_NEAR_SHOWN]
    return tuple(miss for _, miss in sorted(shown, key=lambda entry: entry[0]))
