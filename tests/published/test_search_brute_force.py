"""The search against brute force: a fine grid over everything finds nothing that beats what the search returns."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from tests.support.small_store import OFFER, brief

from boxwright.search import run
from boxwright.search.blocks import BlockResult, Task, objectives_of, place
from boxwright.search.candidate import FITS
from boxwright.search.front import STEPS, front_of
from boxwright.search.points import judge_points
from boxwright.search.prepare import Prepared, prepare
from boxwright.search.run import shortlist
from boxwright.search.workers import run_all

Real = NDArray[np.float64]
FINE = 60
ASKED = brief(families=("closed", "vented", "passive", "bandpass"))
STEP = np.array(STEPS)
LEVEL_OF_ONE = 20.0 * np.log10(20e-6)  # the search's rows hold pressures, their decibels are re 1 Pa


@cache
def _prepared() -> Prepared:
    return prepare(ASKED, OFFER)


def _in_steps(objectives: Real) -> Real:
    """Objectives in front steps, not rounded, all to be made small."""
    signed = objectives.copy()
    signed[:, 2] *= -1.0
    return np.where(np.arange(6) == 2, signed, np.log(np.maximum(np.abs(signed), 1e-9))) / STEP


def _every(task: Task) -> Real:
    """Figures, in steps, of everything that meets the brief on a grid of 60 volumes and 60 tunings for each pair."""
    grid = task.grid
    inside = np.geomspace(grid.inside[0], grid.inside[-1], FINE)
    inside[-1] = grid.inside[-1]
    tuning = np.geomspace(grid.tuning[0], grid.tuning[-1], FINE) if task.openings else grid.tuning[:1]
    share = grid.share if grid.share.size == 1 else np.linspace(grid.share[0], grid.share[-1], 9)
    points = np.stack(np.meshgrid(inside, tuning, share, indexing="ij"), axis=-1).reshape(-1, 3)
    found = []
    for pair in range(len(task.drivers) * task.offered):
        pairs = np.full(len(points), pair)
        rows, outcomes = judge_points(task, pairs, points, full=False)
        rows = rows[outcomes == FITS]
        rows = rows[place(task, pairs[: len(rows)], rows) == FITS]
        if rows.size:  # a pair's own front is enough: what it beats cannot beat anything else
            keys = np.stack((np.full(len(rows), pair), np.arange(len(rows))), axis=1)
            found.append(_in_steps(objectives_of(rows[front_of(objectives_of(rows), keys)])))
    return np.concatenate(found) if found else np.empty((0, 6))


@cache
def _brute() -> Real:
    return np.concatenate([_every(task) for task in _prepared().tasks])


def _fronts(refine: bool) -> list[BlockResult | None]:
    prepared = _prepared()
    results = run_all(prepared.tasks, workers=2)
    pairs = zip(prepared.tasks, results, strict=True)
    return [run._refined(t, r) if refine and r is not None else r for t, r in pairs]


def _joint(fronts: list[BlockResult | None]) -> Real:
    """The front of all families together, in steps."""
    rows = np.concatenate([f.rows for f in fronts if f is not None])
    keys = np.concatenate(
        [np.column_stack((np.full(len(f.keys), n), f.keys)) for n, f in enumerate(fronts) if f]
    )
    return _in_steps(objectives_of(rows[front_of(objectives_of(rows), keys)]))


def _beaten(front: Real, steps: float) -> int:
    """How many of a front something of the brute grid beats by more than so many steps in every objective."""
    return sum(bool((_brute() < one - steps).all(axis=1).any()) for one in front)


def _left_out(front: Real, slack: float) -> float:
    """Share of the brute front that nothing of the front comes within ``slack`` steps of in every objective."""
    return float(np.mean([not (front <= one + slack).all(axis=1).any() for one in _brute()]))


def test_nothing_beats_what_is_returned_in_everything() -> None:
    """Brute force over 60 volumes × 60 tunings of every pair and wiring, 9 shares of a bandpass box."""
    found = shortlist(ASKED, OFFER, workers=2)
    assert len(found.candidates) > 15
    assert len(_brute()) > 300
    figures = np.array([
        [c.inside_volume, c.reach, c.clean_level + LEVEL_OF_ONE, c.price, c.weight, c.group_delay]
        for c in found.candidates
    ])  # fmt: skip
    assert _beaten(_in_steps(figures), 1.0) == 0


def test_the_front_lies_close_to_the_brute_front_and_refining_brings_it_there() -> None:
    """The same with the grid's points alone, not refined, leaves several times as much out."""
    plain, fine = _joint(_fronts(refine=False)), _joint(_fronts(refine=True))
    assert _beaten(fine, 0.5) <= 2
    assert _beaten(fine, 1.0) == 0
    assert _left_out(fine, 1.0) < 0.06
    assert _left_out(fine, 2.0) < 0.01
    assert _left_out(plain, 1.0) > 5.0 * _left_out(fine, 1.0)
    # the best in each objective, but for the delay that is read between frequencies; the smallest box may be one whose
    # partition just carries its driver, which is a matter of millimetres
    short = fine.min(axis=0) - _brute().min(axis=0)
    assert short[1:5].max() < 0.6
    assert short[0] < 1.5
    assert (plain.min(axis=0) - _brute().min(axis=0))[:5].max() > 0.6
