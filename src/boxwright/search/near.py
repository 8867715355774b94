"""Near misses: the smallest change of one limit that lets a family in. Each one is built before it is told."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import Brief, Target
from boxwright.design import BoxPlan
from boxwright.errors import BoxwrightError
from boxwright.search.blocks import Task
from boxwright.search.candidate import COLUMNS
from boxwright.search.prepare import Prepared, retargeted
from boxwright.search.realise import keeps, realise
from boxwright.search.shortlist import Candidate, NearMiss
from boxwright.search.survey import EASY, PAIRS, SHORTFALLS, Survey, points_of, refined, survey_of
from boxwright.search.wood import axes_of
from boxwright.workshop.shape import inside_volume

__all__ = ["near_misses"]

Real = NDArray[np.float64]
Entry = tuple[float, NearMiss]

_AT = {name: i for i, name in enumerate(COLUMNS)}
_SHOWN = 3  # near misses of each family
_SEEDS = 8  # candidates that one limit alone keeps out and that are looked at more closely
_BUILT = 4  # of these, how many are built
# How far up the reach and down the level may go to let a family in, and how closely that is found.
_HIGHEST_REACH, _LEAST_LEVEL, _SHARE_STEP = 3.0, 12.0, 0.01
_JUDGED = 6_000  # candidates of a task, of the pairs that come closest, are judged anew for another target
_ROOM_STEP = 0.05  # room that counts as much as one step of the other limits. [m]


def _built(brief: Brief, prepared: Prepared, task: Task, pair: int, row: Real) -> Candidate | None:
    """A candidate in full if it can be built and keeps this brief."""
    try:
        found = realise(brief, task, pair, row, prepared.high_passes)
    except BoxwrightError:
        return None
    return found if keeps(brief, found) else None


def _larger(brief: Brief, task: Task, more: float) -> Iterator[tuple[str, Brief, Task]]:
    """The brief and the task with a space that has so much more along each axis that may change."""
    for axis in axes_of(brief.space):
        space = replace(brief.space, **{axis: getattr(brief.space, axis) + more})
        whole = BoxPlan(
            shape=space.shape if space.shape != "volume" else "box", width=space.width, height=space.height,
            depth=space.depth, depth_top=space.depth_top, profile=space.profile, wall=task.geometry.wall,
        )  # fmt: skip
        geometry = replace(task.geometry, space=space, capacity=inside_volume(whole))
        yield axis, replace(brief, space=space), replace(task, geometry=geometry)


def _roomier(
    brief: Brief, prepared: Prepared, task: Task, pair: int, row: Real, more: float
) -> tuple[str, Candidate] | None:
    """Along which axis so much more room lets a candidate in, and the candidate."""
    if brief.space.shape == "volume":
        return None
    for axis, larger, roomy in _larger(brief, task, more + 1e-6):
        found = _built(larger, prepared, roomy, pair, row)
        if found is not None:
            return axis, found
    return None


def _without(brief: Brief, column: str) -> Brief:
    """The brief with one limit gone."""
    if column == "price_over":
        return replace(brief, limits=replace(brief.limits, budget=None))
    if column == "weight_over":
        return replace(brief, limits=replace(brief.limits, weight=None))
    return brief  # what else there is, is no limit of a built box


def _miss(brief: Brief, prepared: Prepared, found: Survey, i: int, column: str) -> NearMiss | None:
    """One surveyed candidate that breaks one limit, if it can be built once that is relaxed."""
    row, pair = found.rows[i], int(found.pairs[i])
    task, amount = found.task, float(row[_AT[column]])
    family = task.family.name
    vented = bool(task.openings) and task.opening_table[0, 0] > 0.5
    if column == "amount_over" and vented:
        if row[_AT["amount"]] < task.geometry.wall:
            return None  # too short a vent is no lack of room
        roomy = _roomier(brief, prepared, task, pair, row, amount)
        if roomy is None:
            return None
        axis, candidate = roomy
        words = f"{amount * 1e3:.0f} mm more {axis} and the port fits: {candidate.parts}"
        return NearMiss(
            family=family, limit="room for the port", relaxation=amount, words=words, parts=candidate.parts
        )
    if column == "amount_over" and row[_AT["amount"]] < 0.0:
        return None  # the passive is too heavy: no limit of the brief or of the part that could be relaxed
    built = _built(_without(brief, column), prepared, task, pair, row)
    if built is None:
        return None
    parts, target, limits = built.parts, brief.target, brief.limits
    if column == "protection_short":
        limit = "content below the reach"
        words = f"a programme that holds nothing below {target.reach:.0f} Hz and {parts} stays in its travel"
    elif column == "price_over":
        limit, amount = "budget", float(math.ceil(built.price - (limits.budget or 0.0)))
        words = f"{amount:.0f} more budget buys {parts}"
    elif column == "weight_over":
        limit, amount = "weight", math.ceil(10.0 * (built.weight - (limits.weight or 0.0))) / 10.0
        words = f"{amount:.1f} kg more weight allows {parts}"
    else:
        limit, words = "added mass", f"a passive that takes {amount * 1e3:.0f} g more would do: {parts}"
    if amount <= 0.0:
        return None
    return NearMiss(family=family, limit=limit, relaxation=amount, words=words, parts=parts)


def _from_limit(brief: Brief, prepared: Prepared, found: Survey, at: int) -> list[Entry]:
    """Near misses of one limit."""
    others = np.delete(found.short, at, axis=1).sum(axis=1)
    alone = np.flatnonzero((others <= EASY) & (found.short[:, at] > EASY))
    if not alone.size:
        return []
    seeds = alone[np.argsort(found.short[alone, at], kind="stable")[:_SEEDS]]
    fine = refined(brief, found, seeds, alone=at)
    kept = np.flatnonzero(
        (np.delete(fine.short, at, axis=1).sum(axis=1) <= EASY) & (fine.short[:, at] > EASY)
    )
    step = fine.rows[kept, _AT[SHORTFALLS[at]]] / np.maximum(fine.short[kept, at], EASY)
    entries = []
    for k in np.argsort(fine.short[kept, at], kind="stable")[:_BUILT]:
        miss = _miss(brief, prepared, fine, int(kept[k]), SHORTFALLS[at])
        if miss is not None:
            entries.append((miss.relaxation / float(step[k]), miss))
    return entries


def _from_room(brief: Brief, prepared: Prepared, found: Survey) -> list[Entry]:
    """Near misses of those that keep every limit but find no place: how much larger the space would have to be."""
    good = np.flatnonzero(found.total <= EASY)
    task = found.task
    entries: list[Entry] = []
    done: set[int] = set()
    tried: Counter[int] = Counter()
    for i in good[np.argsort(found.liking[good], kind="stable")]:
        pair = int(found.pairs[i])
        if pair in done or tried[pair] >= _BUILT or (pair not in tried and len(tried) >= PAIRS):
            continue
        tried[pair] += 1
        d, o = divmod(pair, task.offered)
        reason, size = task.geometry.lacking(
            task.drivers[d],
            task.openings[o] if task.openings else None,
            hidden=task.partition is not None,
        )
        if not (0.0 < size < math.inf):
            continue
        roomy = _roomier(brief, prepared, task, pair, found.rows[i], size)
        if roomy is None:
            continue
        done.add(pair)
        axis, candidate = roomy
        words = f"{size * 1e3:.0f} mm more {axis} lets in {candidate.parts}: {reason}"
        miss = NearMiss(
            family=task.family.name,
            limit="room for the parts",
            relaxation=size,
            words=words,
            parts=candidate.parts,
        )
        entries.append((size / _ROOM_STEP, miss))
    return entries


def _closest(
    brief: Brief, prepared: Prepared, found: Survey, target_at: Callable[[float], Target]
) -> tuple[float, Target, Candidate] | None:
    """The least share of a whole relaxation of the target that lets a box in, everything judged anew for each.

    A lower level needs less drive below the reach as well, and a higher reach wants the level from there only.
    """
    pairs = found.nearest(max(1, _JUDGED // points_of(found.task).shape[0]))

    def at(share: float) -> tuple[float, Target, Candidate] | None:
        other = replace(brief, target=target_at(share))
        task = retargeted(other, found.task)
        looked = survey_of(other, task, pairs)
        good = np.flatnonzero(looked.total <= EASY)
        best = good[np.argsort(looked.liking[good], kind="stable")]
        if best.size:
            least = task.geometry.least_inside(task.pieces, looked.pairs[best])
            best = best[looked.rows[best, _AT["inside"]] >= least][:_BUILT]
        built = (_built(other, prepared, task, int(looked.pairs[i]), looked.rows[i]) for i in best)
        return next(((share, other.target, c) for c in built if c is not None), None)

    low, answer = 0.0, at(1.0)
    while answer is not None and answer[0] - low > _SHARE_STEP:
        middle = 0.5 * (low + answer[0])
        closer = at(middle)
        if closer is None:
            low = middle
        else:
            answer = closer
    return answer


def _from_reach(brief: Brief, prepared: Prepared, found: Survey) -> list[Entry]:
    """Near miss of a higher reach."""
    target = brief.target
    highest = min(_HIGHEST_REACH * target.reach, 0.9 * target.band_top)
    if highest <= target.reach:
        return []
    answer = _closest(
        brief,
        prepared,
        found,
        lambda share: replace(target, reach=target.reach * (highest / target.reach) ** share),
    )
    if answer is None:
        return []
    _, relaxed, built = answer
    reach, air = relaxed.reach, built.net_volume * 1e3
    words = f"{reach:.0f} Hz instead of {target.reach:.0f} and {built.parts} does it in {air:.0f} litres"
    miss = NearMiss(
        family=found.task.family.name,
        limit="reach",
        relaxation=reach - target.reach,
        words=words,
        parts=built.parts,
    )
    return [(12.0 * math.log2(reach / target.reach), miss)]


def _from_level(brief: Brief, prepared: Prepared, found: Survey) -> list[Entry]:
    """Near miss of less level."""
    target = brief.target
    answer = _closest(
        brief, prepared, found, lambda share: replace(target, level=target.level - share * _LEAST_LEVEL)
    )
    if answer is None:
        return []
    _, relaxed, built = answer
    less = target.level - relaxed.level
    words = f"{less:.1f} dB less level and {built.parts} is enough"
    miss = NearMiss(
        family=found.task.family.name, limit="level", relaxation=less, words=words, parts=built.parts
    )
    return [(less, miss)]


def near_misses(
    brief: Brief, prepared: Prepared, found: tuple[Survey, ...], fitting: set[str]
) -> tuple[NearMiss, ...]:
    """The smallest relaxation of one limit that lets in each family that has nothing to offer.

    Parameters
    ----------
    fitting : set of str
        Families that need no relaxation.
    """
    by_family: dict[str, list[Entry]] = {}
    for one in found:
        family = one.task.family.name
        if family in fitting:
            continue
        entries = by_family.setdefault(family, [])
        entries += _from_room(brief, prepared, one)
        entries += _from_reach(brief, prepared, one)
        entries += _from_level(brief, prepared, one)
        for at, column in enumerate(SHORTFALLS):
            if column not in ("reach_short", "level_short"):
                entries += _from_limit(brief, prepared, one, at)
    shown: list[Entry] = []
    for entries in by_family.values():
        by_limit: dict[str, Entry] = {}
        for size, miss in sorted(entries, key=lambda entry: entry[0]):
            by_limit.setdefault(miss.limit, (size, miss))
        shown += list(by_limit.values())[:_SHOWN]
    return tuple(miss for _, miss in sorted(shown, key=lambda entry: entry[0]))
