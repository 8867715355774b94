"""The search: every combination that a brief allows, judged, refined, built and ranked."""

from __future__ import annotations

import time
from collections import Counter
from itertools import product

import numpy as np
from numpy.typing import NDArray

from boxwright.brief import Brief
from boxwright.errors import DoesNotFit
from boxwright.search.ahead import layout_compiling, rehearse
from boxwright.search.blocks import BlockResult, Task, objectives_of, place
from boxwright.search.candidate import COLUMNS, FITS, REASONS
from boxwright.search.compare import meeting, routes, surveys, with_fronts
from boxwright.search.families import PartsOffer
from boxwright.search.front import front_of
from boxwright.search.near import near_misses
from boxwright.search.points import judge_points
from boxwright.search.prepare import Prepared, prepare
from boxwright.search.ranking import WEIGHTING, balanced_scores, best_in_each, rank
from boxwright.search.realise import keeps, realise
from boxwright.search.shortlist import OBJECTIVES, Candidate, Rejection, Shortlist
from boxwright.search.verdicts import LOAD_WORDS, REASON_WORDS
from boxwright.search.workers import Progress, run_all

__all__ = ["shortlist"]

Real = NDArray[np.float64]
Whole = NDArray[np.int64]

MOST_REFINED = 1500
MOST_BUILT = 120
MOST_ALIKE = 2
# Two rounds of five by five points around each member of the front, in parts of the grid's own step.
_ROUNDS = (1.0 / 3.0, 1.0 / 9.0)
_OFFSETS = (-2, -1, 0, 1, 2)
_SHARE_OFFSETS = (-1.5, 0.0, 1.5)  # of a bandpass box's volume behind the cone


def _neighbours(task: Task, rows: Real, keys: Whole, part: float) -> tuple[Whole, Real]:
    """Pairs and points (inside, tuning, share) around rows of figures."""
    grid = task.grid
    step_v = np.log(grid.inside[-1] / grid.inside[0]) / (grid.inside.size - 1)
    step_t = np.log(grid.tuning[-1] / grid.tuning[0]) / (grid.tuning.size - 1)
    closed = not task.openings
    pairs, points = [], []
    columns = [COLUMNS.index(c) for c in ("inside", "tuning", "share")]
    split = grid.share.size > 1
    step_s = float(grid.share[1] - grid.share[0]) if split else 0.0
    tunings, shares = (0,) if closed else _OFFSETS, _SHARE_OFFSETS if split else (0.0,)
    for dv, dt, ds in product(_OFFSETS, tunings, shares):
        if dv == dt == ds == 0:
            continue
        moved = rows[:, columns].copy()
        moved[:, 0] = np.minimum(moved[:, 0] * np.exp(dv * part * step_v), grid.inside[-1])
        moved[:, 1] *= np.exp(dt * part * step_t)
        moved[:, 2] += ds * part * step_s
        pairs.append(keys[:, 0])
        points.append(moved)
    return np.concatenate(pairs), np.concatenate(points)


def _joined(task: Task, result: BlockResult, pairs: Whole, rows: Real) -> BlockResult:
    """What the blocks found and what the survey found besides."""
    keys = np.stack((pairs, task.points + np.arange(pairs.size)), axis=1)
    return BlockResult(
        counts=result.counts,
        rows=np.concatenate((result.rows, rows)),
        keys=np.concatenate((result.keys, keys)),
    )


def _refined(task: Task, result: BlockResult) -> BlockResult:
    """The front with finer points around its members."""
    rows, keys = result.rows, result.keys
    serial = max(task.points, int(keys[:, 1].max(initial=0)) + 1)
    for part in _ROUNDS:
        if not rows.size:
            break
        seeds = np.arange(rows.shape[0])
        most = MOST_REFINED if task.grid.share.size == 1 else MOST_REFINED // len(_SHARE_OFFSETS)
        if rows.shape[0] > most:
            seeds = np.argsort(_scores(rows), kind="stable")[:most]
        pairs, points = _neighbours(task, rows[seeds], keys[seeds], part)
        found, outcomes = judge_points(task, pairs, points, full=False)
        ok = outcomes == FITS
        found, pairs = found[ok], pairs[ok]
        if pairs.size:
            fits = place(task, pairs, found) == FITS
            found, pairs = found[fits], pairs[fits]
        new = np.stack((pairs, serial + np.arange(pairs.size)), axis=1)
        serial += pairs.size
        rows, keys = np.concatenate((rows, found)), np.concatenate((keys, new))
        front = front_of(objectives_of(rows), keys)
        rows, keys = rows[front], keys[front]
    return BlockResult(counts=result.counts, rows=rows, keys=keys)


def _scores(rows: Real) -> Real:
    figures = objectives_of(rows)
    figures[:, 2] *= -1.0
    weights = np.array([WEIGHTING[name] for name, *_ in OBJECTIVES])
    return np.asarray(balanced_scores(figures, weights))


def _chosen(rows: Real, keys: Whole) -> Whole:
    """Which of a joint front are built in full.

    The best in each objective, then by balanced score, but no more than a few with the same parts: who has the driver
    and the passive wants to see other parts next, not the same ones a litre larger.
    """
    figures = objectives_of(rows)
    figures[:, 2] *= -1.0
    alike: Counter[tuple[int, int]] = Counter()
    chosen = set(figures.argmin(axis=0).tolist())
    for i in np.argsort(_scores(rows), kind="stable").tolist():
        parts = int(keys[i, 0]), int(keys[i, 1])
        if alike[parts] < MOST_ALIKE and len(chosen) < MOST_BUILT:
            alike[parts] += 1
            chosen.add(i)
    return np.array(sorted(chosen), np.int64)


def _build(brief: Brief, prepared: Prepared, fronts: list[BlockResult | None]) -> tuple[list[Candidate], int]:
    """The joint front of all families, built; and how many fell away in the full prediction."""
    found = [(n, front) for n, front in enumerate(fronts) if front is not None and front.rows.size]
    if not found:
        return [], 0
    rows = np.concatenate([front.rows for _, front in found])
    keys = np.concatenate([np.column_stack((np.full(len(f.keys), n), f.keys)) for n, f in found])
    front = front_of(objectives_of(rows), keys)
    rows, keys = rows[front], keys[front]
    built, lost = [], 0
    for i in _chosen(rows, keys):
        task = prepared.tasks[keys[i, 0]]
        try:
            candidate = realise(brief, task, int(keys[i, 1]), rows[i], prepared.high_passes)
        except DoesNotFit:
            lost += 1
            continue
        if keeps(brief, candidate):
            built.append(candidate)
        else:
            lost += 1
    return built, lost


def _rejections(prepared: Prepared, results: list[BlockResult | None]) -> tuple[Rejection, ...]:
    counted: Counter[tuple[str, str]] = Counter()
    for task, result in zip(prepared.tasks, results, strict=True):
        if result is None:
            continue
        for reason in range(1, REASONS + 1):
            if result.counts[reason]:
                counted[REASON_WORDS[reason], task.family.name] += int(result.counts[reason])
    for family, count in prepared.refused.items():
        counted[LOAD_WORDS, family] += count
    ordered = sorted(counted.items(), key=lambda entry: (-entry[1], entry[0]))
    return tuple(Rejection(reason=r, family=f, count=n) for (r, f), n in ordered if n)


def _meeting(fronts: list[BlockResult | None], prepared: Prepared) -> set[str]:
    """Families of which some box meets the brief, whether or not it is on the joint front."""
    pairs = zip(prepared.tasks, fronts, strict=True)
    return {task.family.name for task, front in pairs if front is not None and front.rows.size}


def shortlist(
    brief: Brief,
    parts: PartsOffer,
    *,
    progress: Progress | None = None,
    workers: int | None = None,
    cluster: str | None = None,
) -> Shortlist:
    """Search every box that a brief allows.

    Parameters
    ----------
    brief : Brief
    parts : PartsOffer
        The parts that may be used.
    progress : callable, optional
        Called with words and the share done, 0 to 1; what it raises ends the search.
    workers : int, optional
        Threads; by default one a core. The answer does not depend on it.
    cluster : str, optional
        Address of a Dask scheduler that does the blocks instead (extra ``cluster``); same answer to the last bit.

    Returns
    -------
    Shortlist
        Empty, with reasons, when nothing fits.

    Raises
    ------
    InputError
        If the brief contradicts itself.
    DoesNotFit
        If the walls leave no room in the space.
    """
    started = time.perf_counter()
    with layout_compiling(progress) as first_time:
        prepared = prepare(brief, parts)
        if first_time:
            rehearse(brief, prepared)
    results = run_all(prepared.tasks, progress=progress, workers=workers, cluster=cluster, span=(0.0, 0.8))
    if progress is not None:
        progress("refining and building the best", 0.8)
    looked = surveys(brief, prepared, workers)
    besides = [meeting(brief, one) for one in looked]
    fronts = [
        _refined(task, _joined(task, result, *more)) if result is not None else None
        for task, result, more in zip(prepared.tasks, results, besides, strict=True)
    ]
    candidates, lost = _build(brief, prepared, fronts)
    ranked = rank(candidates)
    if progress is not None:
        progress("comparing closed, port and passive", 0.9)
    looked = with_fronts(looked, fronts)
    shown = routes(brief, prepared, looked)
    missed = near_misses(brief, prepared, looked, {c.family for c in ranked} | _meeting(fronts, prepared))
    found_besides = sum(pairs.size for pairs, _ in besides)
    fitting = sum(int(r.counts[FITS]) for r in results if r is not None) + found_besides
    warnings = list(prepared.warnings)
    if lost:
        warnings.append(
            f"{lost} of the best fell away in the full prediction (long vents, rounding to whole millimetres)"
        )
    if progress is not None:
        progress("done", 1.0)
    return Shortlist(
        brief=brief,
        tried=sum(t.candidates for t in prepared.tasks) + sum(prepared.refused.values()) + found_besides,
        fitting=fitting,
        candidates=tuple(ranked),
        best=best_in_each(ranked),
        balanced=0 if ranked else None,
        weighting=dict(WEIGHTING),
        rejections=_rejections(prepared, results),
        near_misses=missed,
        routes=shown,
        seconds=time.perf_counter() - started,
        warnings=tuple(warnings),
    )
