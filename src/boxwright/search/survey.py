"""A look at every driver in every family with all shortfalls known: what the comparison and the near misses read."""

from __future__ import annotations

import math
import os
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import Brief
from boxwright.parts import VentStock
from boxwright.search.blocks import Task, boxes_with_room
from boxwright.search.candidate import COLUMNS, NET_LARGE, NO_AIR, VENT_FILLS
from boxwright.search.points import judge_points
from boxwright.search.tables import OpeningRow, driver_row

__all__ = ["EASY", "PAIRS", "SHORTFALLS", "Survey", "points_of", "refined", "survey", "survey_of"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

VOLUMES, TUNINGS, SHARES = 7, 6, 3
OPENINGS, VENTS = 18, 60  # passives and vents looked at for each driver

PAIRS = 4  # of each driver that are kept
ALONE = 40  # of each group that break one limit alone, or none
_GROUP = 60_000  # candidates judged at once
EASY = 1e-9  # a shortfall below this is none
PLAIN_BUDGET = 300.0  # what a price is held against when the brief has no budget; it only orders candidates

# Column of a shortfall, and the size that counts as much as one of the others. Only their order matters, not their
# sum's value. [dB, dB, share, share of the budget, share of the weight, m or kg]
SHORTFALLS = ("level_short", "reach_short", "protection_short", "price_over", "weight_over", "amount_over")
_AT = {name: i for i, name in enumerate(COLUMNS)}
_COLUMNS = [_AT[name] for name in SHORTFALLS]


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Surveyed candidates of one task.

    Attributes
    ----------
    pairs : ndarray of int, shape (n,)
        Driver · openings + opening.
    rows : ndarray, shape (n, len(COLUMNS))
        [SI]
    short : ndarray, shape (n, len(SHORTFALLS))
        By how much each limit is broken, in steps that weigh alike; 0: kept.
    """

    task: Task
    pairs: Whole
    rows: Real
    short: Real

    @property
    def total(self) -> Real:
        """Sum of the shortfalls, shape (n,)."""
        return np.asarray(self.short.sum(axis=1))

    @property
    def liking(self) -> Real:
        """Price and size of those that break nothing, the smaller the better, shape (n,)."""
        price, inside = self.rows[:, _AT["price"]], self.rows[:, _AT["inside"]]
        budget = self.task.bounds.budget if math.isfinite(self.task.bounds.budget) else PLAIN_BUDGET
        return np.asarray(price / max(budget, 1e-9) + inside / self.task.geometry.capacity)

    def nearest(self, count: int) -> Whole:
        """The pairs that come closest to meeting the brief, each once."""
        order = np.lexsort((self.liking, self.total))
        _, first = np.unique(self.pairs[order], return_index=True)
        return np.asarray(np.sort(self.pairs[order[np.sort(first)[:count]]]))


def _steps(brief: Brief, task: Task) -> Real:
    budget, weight = brief.limits.budget, brief.limits.weight
    vented = bool(task.openings) and isinstance(task.openings[0].part, VentStock)
    return np.array([
        1.0,
        1.0,
        0.1,
        0.05 * budget if budget else 1.0,
        0.05 * weight if weight else 1.0,
        0.05 if vented else 0.02,
    ])  # fmt: skip


def _chosen_openings(task: Task, d: int) -> Whole:
    """The openings worth a look for a driver: able to move twice its volume, cheapest first, then the next best."""
    if not task.openings:
        return np.zeros(1, np.int64)
    number, area, travel, price, is_vent = (
        task.opening_table[:, OpeningRow._fields.index(name)]
        for name in ("number", "area", "travel", "price", "is_vent")
    )
    if is_vent[0] > 0.5:
        return np.arange(min(len(task.openings), VENTS))
    able = number * area * np.minimum(travel, 1.0)
    driver = driver_row(task.driver_table, d)
    needed = 2.0 * driver.sd * min(driver.travel, 0.02)
    order = np.lexsort((price, np.maximum(needed / np.maximum(able, 1e-12), 1.0)))
    return np.asarray(order[:OPENINGS], np.int64)


def _judged(brief: Brief, task: Task, pairs: Whole, points: Real) -> Survey:
    rows, outcomes = judge_points(task, pairs, points, full=True)
    usable = ~np.isin(outcomes, (NO_AIR, VENT_FILLS, NET_LARGE))
    rows, pairs = rows[usable], pairs[usable]
    if pairs.size:
        # what the box that has room for the vents costs and weighs more than the leanest, which the kernel counts
        boxes, bends = boxes_with_room(task, pairs, rows)
        weight, price = task.geometry.above_leanest(boxes, rows[:, 0], bends)
        some = boxes.any(axis=0)
        for more, figure, over, bound in (
            (price, "price", "price_over", task.bounds.budget),
            (weight, "weight", "weight_over", task.bounds.weight),
        ):
            beyond = np.maximum(rows[:, _AT[figure]] + np.where(some, more, 0.0) - bound, 0.0)
            rows[:, _AT[over]] = np.maximum(rows[:, _AT[over]], beyond)
    return Survey(task=task, pairs=pairs, rows=rows, short=rows[:, _COLUMNS] / _steps(brief, task))


def points_of(task: Task) -> Real:
    """The coarse grid of inside volume, tuning and share, shape (n, 3)."""
    grid = task.grid
    inside = np.geomspace(grid.inside[0], grid.inside[-1], VOLUMES)
    inside[-1] = grid.inside[-1]
    tuning = np.geomspace(grid.tuning[0], grid.tuning[-1], TUNINGS) if task.openings else grid.tuning[:1]
    share = grid.share if grid.share.size == 1 else np.linspace(grid.share[0], grid.share[-1], SHARES)
    return np.stack(np.meshgrid(inside, tuning, share, indexing="ij"), axis=-1).reshape(-1, 3)


def survey_of(brief: Brief, task: Task, pairs: Whole) -> Survey:
    """Judge the coarse grid of some pairs."""
    points = points_of(task)
    return _judged(brief, task, np.repeat(pairs, len(points)), np.tile(points, (len(pairs), 1)))


def survey(brief: Brief, task: Task, *, workers: int | None = None) -> Survey:
    """Judge a coarse grid of every driver with the openings worth a look, every shortfall counted.

    What comes back are the candidates that the comparison and the near misses can have a use for, not all that were
    judged. The drivers are taken in groups, so that a store of thousands needs no more memory than one of dozens.

    Parameters
    ----------
    workers : int, optional
        Threads; by default one a core.
    """
    points = points_of(task)
    openings = min(len(task.openings), VENTS) if task.openings else 1
    group = max(1, _GROUP // (openings * len(points)))

    def look(first: int) -> Survey:
        drivers = range(first, min(first + group, len(task.drivers)))
        pairs = np.concatenate([d * task.offered + _chosen_openings(task, d) for d in drivers])
        return _worth_keeping(
            _judged(brief, task, np.repeat(pairs, len(points)), np.tile(points, (len(pairs), 1)))
        )

    with ThreadPoolExecutor(workers if workers is not None else os.cpu_count() or 1) as pool:
        parts = list(pool.map(look, range(0, len(task.drivers), group)))
    return Survey(
        task=task,
        pairs=np.concatenate([p.pairs for p in parts]),
        rows=np.concatenate([p.rows for p in parts]),
        short=np.concatenate([p.short for p in parts]),
    )


def _worth_keeping(found: Survey) -> Survey:
    """The best candidates of each driver, and those that break one limit alone by the least."""
    if not found.pairs.size:
        return found
    order = np.lexsort((found.liking, found.total))
    _, first = np.unique(found.pairs[order], return_index=True)
    best = order[np.sort(first)]  # the best of each pair, the best pair first
    taken: Counter[int] = Counter()
    kept = []
    for i in best.tolist():
        driver = int(found.pairs[i]) // found.task.offered
        if taken[driver] < PAIRS:
            taken[driver] += 1
            kept.append(i)
    kept += order[found.total[order] <= EASY][:ALONE].tolist()
    for column in range(len(SHORTFALLS)):
        others = np.delete(found.short, column, axis=1).sum(axis=1)
        alone = np.flatnonzero((others <= EASY) & (found.short[:, column] > EASY))
        kept += alone[np.argsort(found.short[alone, column], kind="stable")[:ALONE]].tolist()
    chosen = np.unique(np.array(kept, np.int64))
    return Survey(
        task=found.task, pairs=found.pairs[chosen], rows=found.rows[chosen], short=found.short[chosen]
    )


def refined(
    brief: Brief, found: Survey, seeds: Whole, *, alone: int | None = None, rounds: int = 2
) -> Survey:
    """The best of the finer points around the seeds of a survey, one a pair.

    Parameters
    ----------
    alone : int, optional
        Column of the shortfall that may stay; the others have to go first. By default all count alike.
    """
    task = found.task
    columns = [_AT[c] for c in ("inside", "tuning", "share")]
    step_v = np.log(task.grid.inside[-1] / task.grid.inside[0]) / (VOLUMES - 1)
    step_t = np.log(task.grid.tuning[-1] / task.grid.tuning[0]) / (TUNINGS - 1)
    centres, pairs = found.rows[seeds][:, columns], found.pairs[seeds]
    result = found
    for k in range(rounds):
        offsets = np.array([(a, b) for a in (-2, -1, 0, 1, 2) for b in (-2, -1, 0, 1, 2)]) / 3.0 ** (k + 1)
        moved = np.repeat(centres, len(offsets), axis=0)
        shift = np.tile(offsets, (len(centres), 1))
        moved[:, 0] = np.minimum(moved[:, 0] * np.exp(shift[:, 0] * step_v), task.grid.inside[-1])
        moved[:, 1] *= np.exp(shift[:, 1] * step_t)
        result = _judged(brief, task, np.repeat(pairs, len(offsets)), moved)
        if not result.pairs.size:
            return found
        best: dict[int, int] = {}
        first = result.total if alone is None else np.delete(result.short, alone, axis=1).sum(axis=1)
        for i in np.lexsort((result.liking, result.total, first)).tolist():
            best.setdefault(int(result.pairs[i]), i)
        keep = np.array(sorted(best.values()))
        result = Survey(task=task, pairs=result.pairs[keep], rows=result.rows[keep], short=result.short[keep])
        centres, pairs = result.rows[:, columns], result.pairs
    return result
